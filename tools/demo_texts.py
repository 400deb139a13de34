"""The words of the demo study: its settings, sources, decisions and README."""

from typing import Final

from demo_animal import ANIMAL, ISLAND, SCIENTIFIC_NAME
from demo_relatives import BLIND_SPECIES, STILT_SPECIES

Row = dict[str, str]

STUDY_TOML: Final = f"""\
# INVENTED. This animal, its island, its bones and its witnesses never existed.

[study]
title = "The {ANIMAL}: an average bird for the gallery"
question = "What did an average adult weigh, how large were its bones, and could it run?"
invented = true
format = 1

[animal]
name = "{ANIMAL}"
scientific_name = "{SCIENTIFIC_NAME}"
place = "{ISLAND} (an invented island)"

[draws]
seed = 1641
count = 20000

[choices]
retransformation = "lognormal"
retransformation_reason = "The mean mass is wanted, and the residuals look alike at all sizes."
comparison = "runner"
comparison_reason = "Eyewitnesses say that it ran; the question is whether its legs allow it."
heterogeneity_scale = 0.2
heterogeneity_reason = \"\"\"Honest methods for one animal's mass commonly differ by a fifth or two \\
(common practice).\"\"\"

[choices.body_density]
value = 0.95
low = 0.85
high = 1.05
unit = "kg/L"
reason = "Ground bird with lungs and air sacs, plumage not counted (common practice)."

[choices.maquette_shape_percent]
value = 0.0
low = -20.0
high = 20.0
unit = "%"
reason = "How far a modeller's guess of the flesh may be off in volume (common practice)."

[choices.weight_on_legs]
value = 1.0
low = 1.0
high = 1.0
unit = "1"
reason = "A two-legged animal carries its whole weight on one pair of legs."

[blind_proof]
species = "{BLIND_SPECIES}"
reason = "A large flightless relative that runs: the nearest living thing to the lost bird."

[tree]
file = "relatives.nwk"

[witness]
earliest = 1641
latest = 1760
"""

README: Final = f"""\
# INVENTED demonstration study

Everything in this folder is made up: the {ANIMAL} (*{SCIENTIFIC_NAME}*), the island,
the collections, the living relatives, the pictures, the accounts and the old mount. No
such animal, place or collection exists. The numbers obey a hidden truth that is written
down elsewhere, so that anyone can see whether the study finds it.

- `study.toml`: the animal, the question and the choices made, each with its reason.
- `tables/`: one table a file; a spreadsheet opens them.
- `files/`: the tree of the relatives and three traced bone sections.

Run it with `bonewright run demo`. The folder is written by `python tools/make_demo.py`;
edit a copy, not this one.

Two bones are called what they are not, and one measurement was typed with its point in
the wrong place. They are left in on purpose.
"""

# id | kind | reliability | reason | citation
_SOURCES: Final = """
src-01|own measuring|high|measured for this study|Measuring visit, Harbour Collection of Merrowend Bones (HARB), March 2025 (invented)
src-02|own measuring|high|measured for this study|Measuring visit, Upland College Cabinet (UPLC), April 2025 (invented)
src-03|own measuring|high|measured for this study|Measuring visit, Saltings Bone Room (SALT), May 2025 (invented)
src-04|own measuring|fair|measured in centimetres on an old board|Measuring visit, Cliff House Collection (CLIF), June 2025 (invented)
src-05|own measuring|high|measured for this study|Measuring visit, Quayside Natural History Store (QUAY), July 2025 (invented)
src-06|own measuring|fair|lit poorly; half the bones measured again|Measuring visit, Fens Study Collection (FENS), August 2025 (invented)
src-07|cast|fair|plaster shrinks a little|Casts kept with the collections, measured in 2025 (invented)
src-08|own measuring|high|measured for this study|Sections of old breaks and slice images, September 2025 (invented)
src-09|publication|fair|means of few birds for some species|Body masses of invented birds, a made-up compilation (invented)
src-10|own measuring|high|skeletons of weighed birds|Leg bones and sections of invented living relatives, October 2025 (invented)
src-11|archive|fair|dates read off inscriptions|Picture file of the great rail, sheets 1 to 24 (invented)
src-12|archive|fair|read in transcription|Account file of the great rail, items 1 to 9 (invented)
src-13|own measuring|fair|measured over old skin|The old mount, measured in January 2026 (invented)
src-14|own measuring|high|measured for this study|Clay maquette at 1:4 and its readings in a water tank, February 2026 (invented)
"""


def source_rows() -> list[Row]:
    """Return the rows of sources."""
    rows = []
    for line in _SOURCES.strip().splitlines():
        identifier, kind, reliability, reason, citation = line.split("|")
        rows.append(
            {
                "sourceID": identifier,
                "bibliographicCitation": citation,
                "sourceKind": kind,
                "reliability": reliability,
                "reliabilityReason": reason,
                "sourceRemarks": "invented",
            }
        )
    return rows


def decision_rows(
    *, relative_bones: list[Row], specimens: list[Row]
) -> tuple[list[Row], dict[str, str]]:
    """Keep one odd measurement that is right; set one bone aside."""
    stilt = next(
        row["measurementID"]
        for row in relative_bones
        if row["scientificName"] == STILT_SPECIES
        and (row["element"], row["measurementType"]) == ("tarsometatarsus", "GL")
    )
    burnt = next(
        row
        for row in specimens
        if row["element"] == "coracoid" and row["preparations"] == "bone"
    )
    burnt["materialEntityRemarks"] = "burnt, probably shrunken"
    decisions = [
        ("relative_measurements", stilt, "keep", "Measured again on four skeletons: it is so."),
        ("specimens", burnt["materialEntityID"], "set aside", "Burnt in a cooking fire; shrunken."),
    ]
    rows = [
        {
            "decisionID": f"dec-{number:02d}",
            "tableName": table,
            "rowID": row_id,
            "decision": decision,
            "reason": reason,
            "decidedBy": "study team",
            "decidedDate": "2026-03-14",
        }
        for number, (table, row_id, decision, reason) in enumerate(decisions, start=1)
    ]
    return rows, {row["rowID"]: row["decision"] for row in rows}
