"""The demo study's sources, decisions and rival hypotheses."""

from demo_relatives import STILT_SPECIES
from demo_words_file import lines_of

Row = dict[str, str]


def source_rows() -> list[Row]:
    """Return the rows of sources."""
    rows = []
    for identifier, kind, reliability, reason, citation in lines_of("sources.txt"):
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


def hypothesis_rows() -> list[Row]:
    """Return rival ideas of its condition; the study team holds none likelier beforehand."""
    ideas = (
        ("lean all year", "lean", "lean", "Most of the early drawings show a slender bird."),
        ("fat all year", "fat", "fat", "The best-known picture shows a very fat bird."),
        (
            "fat in one season, lean in another",
            "lean",
            "fat",
            "Food on the island came in a wet and a dry season.",
        ),
    )
    return [
        {
            "hypothesisID": f"hyp-{number}",
            "hypothesisTitle": title,
            "leanSeasonState": lean,
            "fatSeasonState": fat,
            "priorPercent": "33.3",
            "reason": reason,
        }
        for number, (title, lean, fat, reason) in enumerate(ideas, start=1)
    ]


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
    burnt = next(row for row in specimens if row["materialEntityRemarks"].startswith("burnt"))
    decisions = [
        ("relative_measurements", stilt, "keep", "Measured again on four skeletons: it is so."),
        ("specimens", burnt["materialEntityID"], "set aside", "Burnt bone shrinks."),
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
