"""The tables of a study, in one place.

The check, ``datapackage.json``, the blank study and the documentation of every column
are all generated from :data:`TABLES`. Names are Darwin Core terms wherever the standard
has one. The module is long because it is a list, not logic.
"""

from typing import Literal

from bonewright.study.columns import Column, Limit, Table

__all__ = ["ELEMENTS", "MEASUREMENT_CODES", "MIDLINE_ELEMENTS", "TABLES", "TABLE_BY_NAME"]

ELEMENTS = (
    "skull",
    "mandible",
    "sternum",
    "coracoid",
    "scapula",
    "furcula",
    "humerus",
    "radius",
    "ulna",
    "carpometacarpus",
    "pelvis",
    "femur",
    "tibiotarsus",
    "tarsometatarsus",
    "phalanx",
)

MIDLINE_ELEMENTS = frozenset({"skull", "mandible", "sternum", "furcula", "pelvis"})

# Meanings are ours, in short; the codes are von den Driesch (1976).
MEASUREMENT_CODES: dict[str, str] = {
    "GL": "greatest length",
    "GLl": "greatest length, lateral side",
    "La": "axial length",
    "Lm": "medial length",
    "L": "length of metacarpal II",
    "LM": "greatest length of the sternum",
    "dL": "dorsal length",
    "LC": "length of the crista sterni",
    "LS": "length along the vertebrae",
    "LV": "length of the lumbosacral vertebrae",
    "CBL": "condylobasal length",
    "LP": "length from the protuberantia occipitalis externa to the processes of the premaxilla",
    "LI": "length of the incisive bone",
    "GB": "greatest breadth",
    "GH": "greatest height",
    "SBO": "smallest breadth between the orbits",
    "SBF": "smallest breadth between the facets",
    "AA": "breadth across the antitrochanters",
    "SB": "smallest breadth of the partes glutaeae",
    "DiA": "diameter of one acetabulum",
    "Bb": "greatest basal breadth",
    "BF": "breadth of the basal articular facet",
    "Bp": "breadth of the proximal end",
    "Dp": "depth of the proximal end",
    "Dip": "diagonal of the proximal end",
    "Dic": "greatest cranial diagonal",
    "Bd": "breadth of the distal end",
    "Dd": "depth of the distal end",
    "Did": "diagonal of the distal end",
    "SC": "smallest breadth of the shaft",
    "CD": "smallest circumference of the shaft",
}

_LENGTH_LIMIT = Limit(low=0.2, high=2000.0, unit="mm")
_MASS_LIMIT = Limit(low=0.002, high=1500.0, unit="kg")
_SECTION_LIMIT = Limit(low=0.1, high=200.0, unit="mm")


def _source() -> Column:
    return Column(
        name="sourceID",
        title="Source",
        description="Row of the sources table that this comes from.",
        refers_to="sources",
        example="src-01",
    )


def _remarks(name: str) -> Column:
    return Column(name=name, title="Remarks", description="Anything worth knowing, in your words.")


def _grade() -> tuple[Column, Column]:
    return (
        Column(
            name="reliability",
            title="Reliability",
            description="How far it can be trusted: high, fair, poor or unknown.",
            kind="choice",
            choices=("high", "fair", "poor", "unknown"),
            example="fair",
        ),
        Column(
            name="reliabilityReason",
            title="Reason for the grade",
            description="Why it earns that grade.",
        ),
    )


def _measured(
    *, value: str, unit_example: str, limit: Limit, dimension: Literal["length", "volume"]
) -> tuple[Column, ...]:
    return (
        Column(
            name="measurementValue",
            title="Value",
            description=value,
            kind="number",
            required=True,
            unit_column="measurementUnit",
            dimension=dimension,
            limit=limit,
            minimum=0.0,
            exclusive=True,
        ),
        Column(
            name="measurementUnit",
            title="Unit",
            description="Unit of the value.",
            kind="unit",
            required=True,
            example=unit_example,
        ),
    )


SOURCES = Table(
    name="sources",
    title="Sources",
    description="Where things come from: visits, papers, archives, photographs, casts.",
    key="sourceID",
    step="study",
    columns=(
        Column(
            name="sourceID",
            title="Source",
            description="A short name for the source, yours to choose.",
            required=True,
            example="src-01",
        ),
        Column(
            name="bibliographicCitation",
            title="Citation",
            description="The source in full, as you would print it.",
            required=True,
        ),
        Column(
            name="sourceKind",
            title="Kind",
            description="What sort of source it is.",
            kind="choice",
            required=True,
            choices=(
                "own measuring",
                "publication",
                "archive",
                "collection record",
                "photograph",
                "cast",
                "letter",
                "other",
            ),
            example="own measuring",
        ),
        *_grade(),
        _remarks("sourceRemarks"),
    ),
)

SPECIMENS = Table(
    name="specimens",
    title="Specimens",
    description="One row a bone, piece of bone or cast.",
    key="materialEntityID",
    step="skeleton",
    columns=(
        Column(
            name="materialEntityID",
            title="Bone",
            description="A name for this bone that no other row of this table has.",
            required=True,
            example="bone-001",
        ),
        Column(
            name="institutionCode",
            title="Collection",
            description="The collection that keeps it.",
            required=True,
            example="HARB",
        ),
        Column(
            name="catalogNumber",
            title="Catalogue number",
            description="Its number in that collection.",
            required=True,
            example="1874.3",
        ),
        Column(
            name="organismID",
            title="Individual",
            description="A name shared by bones known to be of one individual; empty when loose.",
            example="ind-07",
        ),
        Column(
            name="element",
            title="Element",
            description="Which bone it is.",
            kind="choice",
            required=True,
            choices=ELEMENTS,
            example="femur",
        ),
        Column(
            name="side",
            title="Side",
            description="left, right, midline (a bone without sides) or unknown.",
            kind="choice",
            required=True,
            choices=("left", "right", "midline", "unknown"),
            example="left",
        ),
        Column(
            name="sex",
            title="Sex",
            description="female, male, or unknown.",
            kind="choice",
            choices=("female", "male", "unknown"),
            example="unknown",
        ),
        Column(
            name="lifeStage",
            title="Life stage",
            description="adult, subadult, juvenile or unknown. Only adults enter the average.",
            kind="choice",
            choices=("adult", "subadult", "juvenile", "unknown"),
            example="adult",
        ),
        Column(
            name="preparations",
            title="Preparation",
            description="bone, cast, print (a 3D print) or mounted.",
            kind="choice",
            required=True,
            choices=("bone", "cast", "print", "mounted"),
            example="bone",
        ),
        Column(
            name="castOf",
            title="Cast of",
            description="For a cast or print: the bone it was made from, if that is in the table.",
            refers_to="specimens",
        ),
        Column(
            name="preservation",
            title="Preservation",
            description="complete, broken or weathered.",
            kind="choice",
            required=True,
            choices=("complete", "broken", "weathered"),
            example="complete",
        ),
        _source(),
        _remarks("materialEntityRemarks"),
    ),
)

MEASUREMENTS = Table(
    name="measurements",
    title="Measurements",
    description="One row a measurement; repeats are further rows.",
    key="measurementID",
    step="skeleton",
    columns=(
        Column(
            name="measurementID",
            title="Measurement",
            description="A name for this row that no other row of this table has.",
            required=True,
            example="m-0001",
        ),
        Column(
            name="materialEntityID",
            title="Bone",
            description="The bone that was measured.",
            required=True,
            refers_to="specimens",
            example="bone-001",
        ),
        Column(
            name="measurementType",
            title="Code",
            description="Measurement code of von den Driesch (1976); CD is least circumference.",
            kind="choice",
            required=True,
            choices=tuple(MEASUREMENT_CODES),
            example="GL",
        ),
        *_measured(
            value="What was read off.", unit_example="mm", limit=_LENGTH_LIMIT, dimension="length"
        ),
        Column(
            name="measurementAccuracy",
            title="Accuracy",
            description="Smallest division of the instrument, in the unit of the value.",
            kind="number",
            minimum=0.0,
            example="0.05",
        ),
        Column(
            name="measurementDeterminedBy",
            title="Observer",
            description="Who measured: a name or initials.",
            example="observer A",
        ),
        Column(
            name="measurementDeterminedDate",
            title="Date measured",
            description="Year, year-month or year-month-day.",
            kind="date",
            example="2026-03-14",
        ),
        Column(
            name="measurementMethod",
            title="Instrument",
            description="How it was measured.",
            example="dial callipers",
        ),
        _source(),
        _remarks("measurementRemarks"),
    ),
)

RELATIVES = Table(
    name="relatives",
    title="Living relatives",
    description="One row a living species with known body mass.",
    key="scientificName",
    step="relatives",
    columns=(
        Column(
            name="scientificName",
            title="Species",
            description="Name of the species, as in the tree.",
            required=True,
            example="Invented species",
        ),
        Column(name="vernacularName", title="Common name", description="Its common name."),
        Column(name="family", title="Family", description="Its family or other named group."),
        Column(
            name="locomotion",
            title="Way of moving",
            description="How it mostly gets about: runner, walker, wader, swimmer, percher, flyer.",
            kind="choice",
            required=True,
            choices=("runner", "walker", "wader", "swimmer", "percher", "flyer"),
            example="walker",
        ),
        Column(
            name="flight",
            title="Flight",
            description="flying or flightless.",
            kind="choice",
            required=True,
            choices=("flying", "flightless"),
            example="flying",
        ),
        Column(
            name="bodyMass",
            title="Body mass",
            description="Mean adult body mass.",
            kind="number",
            required=True,
            unit_column="bodyMassUnit",
            dimension="mass",
            limit=_MASS_LIMIT,
            minimum=0.0,
            exclusive=True,
            example="0.42",
        ),
        Column(
            name="bodyMassUnit",
            title="Mass unit",
            description="Unit of the body mass.",
            kind="unit",
            required=True,
            example="kg",
        ),
        Column(
            name="individualCount",
            title="Number weighed",
            description="How many individuals the mean rests on.",
            kind="integer",
            minimum=1.0,
            example="12",
        ),
        _source(),
        _remarks("taxonRemarks"),
    ),
)

RELATIVE_MEASUREMENTS = Table(
    name="relative_measurements",
    title="Measurements of living relatives",
    description="One row a species mean of one measurement.",
    key="measurementID",
    step="relatives",
    columns=(
        Column(
            name="measurementID",
            title="Measurement",
            description="A name for this row that no other row of this table has.",
            required=True,
            example="r-0001",
        ),
        Column(
            name="scientificName",
            title="Species",
            description="The living species, from the relatives table.",
            required=True,
            refers_to="relatives",
        ),
        Column(
            name="element",
            title="Element",
            description="Which bone.",
            kind="choice",
            required=True,
            choices=ELEMENTS,
            example="femur",
        ),
        Column(
            name="measurementType",
            title="Code",
            description="Measurement code, as in the measurements table.",
            kind="choice",
            required=True,
            choices=tuple(MEASUREMENT_CODES),
            example="CD",
        ),
        *_measured(
            value="Mean over individuals of the species.",
            unit_example="mm",
            limit=_LENGTH_LIMIT,
            dimension="length",
        ),
        Column(
            name="individualCount",
            title="Number measured",
            description="How many individuals the mean rests on.",
            kind="integer",
            minimum=1.0,
            example="6",
        ),
        _source(),
        _remarks("measurementRemarks"),
    ),
)


def _section_number(name: str, title: str, description: str) -> Column:
    return Column(
        name=name,
        title=title,
        description=description,
        kind="number",
        unit_column="measurementUnit",
        dimension="length",
        limit=_SECTION_LIMIT,
        minimum=0.0,
        exclusive=True,
    )


SECTIONS = Table(
    name="sections",
    title="Bone sections",
    description=(
        "One row a cross-section, of a bone of the lost animal (name the bone) or of a living"
        " species (name the species): exactly one of the two."
    ),
    key="sectionID",
    step="sections",
    columns=(
        Column(
            name="sectionID",
            title="Section",
            description="A name for this section that no other row of this table has.",
            required=True,
            example="sec-01",
        ),
        Column(
            name="materialEntityID",
            title="Bone",
            description="The bone of the lost animal it was taken from.",
            refers_to="specimens",
        ),
        Column(
            name="scientificName",
            title="Species",
            description="Or the living species it was taken from.",
            refers_to="relatives",
        ),
        Column(
            name="element",
            title="Element",
            description="Which leg bone.",
            kind="choice",
            required=True,
            choices=("femur", "tibiotarsus", "tarsometatarsus"),
            example="femur",
        ),
        Column(
            name="position",
            title="Position",
            description="Distance from the proximal end, in percent of the bone's length.",
            kind="number",
            required=True,
            minimum=1.0,
            maximum=99.0,
            example="50",
        ),
        Column(
            name="boneLength",
            title="Length of that bone",
            description="Greatest length of the bone the section was taken from, complete or"
            " estimated, in the unit of this row.",
            kind="number",
            required=True,
            unit_column="measurementUnit",
            dimension="length",
            limit=_LENGTH_LIMIT,
            minimum=0.0,
            exclusive=True,
        ),
        _section_number(
            "outerMediolateral", "Outer breadth", "Outer diameter from side to side (mediolateral)."
        ),
        _section_number(
            "outerAnteroposterior",
            "Outer depth",
            "Outer diameter from front to back (anteroposterior).",
        ),
        _section_number(
            "innerMediolateral", "Inner breadth", "Diameter of the marrow space from side to side."
        ),
        _section_number(
            "innerAnteroposterior", "Inner depth", "Diameter of the marrow space, front to back."
        ),
        Column(
            name="outlineFile",
            title="Outline file",
            description="Instead of diameters: a CSV file in files/ with columns ring, x, y"
            " (ring 0 outer, 1 and up holes; x mediolateral, y anteroposterior).",
            kind="file",
            example="outlines/sec-09.csv",
        ),
        Column(
            name="measurementUnit",
            title="Unit",
            description="Unit of every length in this row and its outline.",
            kind="unit",
            required=True,
            example="mm",
        ),
        _source(),
        _remarks("sectionRemarks"),
    ),
)

BODIES = Table(
    name="bodies",
    title="Body models",
    description="One row a reading of a maquette's volume; repeats are further rows.",
    key="measurementID",
    step="body",
    columns=(
        Column(
            name="measurementID",
            title="Reading",
            description="A name for this row that no other row of this table has.",
            required=True,
            example="v-01",
        ),
        Column(
            name="bodyID",
            title="Model",
            description="Name of the model; repeats share it.",
            required=True,
            example="maquette-1",
        ),
        Column(
            name="bodyState",
            title="State",
            description="How fat the model is meant to be: lean, mean or fat.",
            kind="choice",
            required=True,
            choices=("lean", "mean", "fat"),
            example="mean",
        ),
        Column(
            name="scaleDenominator",
            title="Scale 1 to",
            description="4 for a model at 1:4, 1 for life size.",
            kind="number",
            required=True,
            minimum=1.0,
            maximum=50.0,
            example="4",
        ),
        *_measured(
            value="Volume of water displaced, armature included.",
            unit_example="mL",
            limit=Limit(low=1e-6, high=3.0, unit="m3"),
            dimension="volume",
        ),
        Column(
            name="armatureVolume",
            title="Armature outside the body",
            description="Volume of wire or base that stood in the water but is no part of the"
            " body, in the same unit. Empty means none.",
            kind="number",
            unit_column="measurementUnit",
            dimension="volume",
            minimum=0.0,
        ),
        Column(
            name="measurementDeterminedBy",
            title="Observer",
            description="Who took the reading.",
            example="observer A",
        ),
        _source(),
        _remarks("measurementRemarks"),
    ),
)

PICTURES = Table(
    name="pictures",
    title="Pictures",
    description="One row a picture of the animal.",
    key="pictureID",
    step="testimony",
    columns=(
        Column(
            name="pictureID",
            title="Picture",
            description="A name for this picture that no other row of this table has.",
            required=True,
            example="pic-01",
        ),
        Column(
            name="title",
            title="What it is",
            description="A few words to know it by.",
            required=True,
        ),
        Column(
            name="eventDate",
            title="Date",
            description="When it was made: year, year-month, year-month-day, or two of them with"
            " a slash for a span (1650/1655).",
            kind="date",
            required=True,
            example="1650/1655",
        ),
        Column(
            name="drawnFrom",
            title="Drawn from",
            description="What the maker had before them.",
            kind="choice",
            required=True,
            choices=("life", "dead specimen", "another picture", "unknown"),
            example="unknown",
        ),
        Column(
            name="copyOf",
            title="Copy of",
            description="The picture it copies, if known.",
            refers_to="pictures",
        ),
        Column(name="creator", title="Maker", description="Who made it, as claimed."),
        Column(name="locality", title="Place", description="Where it was made."),
        Column(
            name="pictureFile",
            title="Picture file",
            description="Image in files/, if you have one.",
            kind="file",
        ),
        Column(
            name="license", title="Licence", description="Terms on which the image may be used."
        ),
        *_grade(),
        _source(),
        _remarks("pictureRemarks"),
    ),
)

PICTURE_MARKS = Table(
    name="picture_marks",
    title="Scores of pictures",
    description="One row a score that one scorer gave one picture.",
    key="measurementID",
    step="testimony",
    columns=(
        Column(
            name="measurementID",
            title="Score",
            description="A name for this row that no other row of this table has.",
            required=True,
            example="k-001",
        ),
        Column(
            name="pictureID",
            title="Picture",
            description="The picture scored.",
            required=True,
            refers_to="pictures",
        ),
        Column(
            name="measurementType",
            title="What is scored",
            description="fatness: 1 very lean, 2 lean, 3 middling, 4 fat, 5 very fat.",
            kind="choice",
            required=True,
            choices=("fatness",),
            example="fatness",
        ),
        Column(
            name="measurementValue",
            title="Score",
            description="A whole or half number from 1 to 5.",
            kind="number",
            required=True,
            minimum=1.0,
            maximum=5.0,
            example="3",
        ),
        Column(
            name="measurementDeterminedBy",
            title="Scorer",
            description="Who scored.",
            required=True,
            example="scorer 1",
        ),
        _remarks("measurementRemarks"),
    ),
)

ACCOUNTS = Table(
    name="accounts",
    title="Accounts",
    description="One row a written account.",
    key="accountID",
    step="testimony",
    columns=(
        Column(
            name="accountID",
            title="Account",
            description="A name for this account that no other row of this table has.",
            required=True,
            example="acc-01",
        ),
        Column(
            name="title",
            title="What it is",
            description="A few words to know it by.",
            required=True,
        ),
        Column(
            name="eventDate",
            title="Date",
            description="When it was written or tells of: as in pictures.",
            kind="date",
            required=True,
            example="1662",
        ),
        Column(
            name="standing",
            title="Standing",
            description="How near the writer stood: eyewitness, second hand, copied or unknown.",
            kind="choice",
            required=True,
            choices=("eyewitness", "second hand", "copied", "unknown"),
            example="eyewitness",
        ),
        Column(
            name="copyOf",
            title="Copy of",
            description="The account it copies, if known.",
            refers_to="accounts",
        ),
        Column(name="creator", title="Writer", description="Who wrote it, as claimed."),
        Column(name="passage", title="Passage", description="What it says, quoted or summed up."),
        *_grade(),
        _source(),
        _remarks("accountRemarks"),
    ),
)

CLAIMS = Table(
    name="claims",
    title="Claims",
    description="One row a claim that an account makes.",
    key="claimID",
    step="testimony",
    columns=(
        Column(
            name="claimID",
            title="Claim",
            description="A name for this claim that no other row of this table has.",
            required=True,
            example="clm-01",
        ),
        Column(
            name="accountID",
            title="Account",
            description="The account that makes it.",
            required=True,
            refers_to="accounts",
        ),
        Column(
            name="claimType",
            title="About",
            description="What the claim is about.",
            kind="choice",
            required=True,
            choices=("weight", "height", "fatness", "movement", "other"),
            example="weight",
        ),
        Column(
            name="measurementValue",
            title="Value",
            description="The number claimed, for weight and height.",
            kind="number",
            minimum=0.0,
            exclusive=True,
        ),
        Column(
            name="measurementUnit",
            title="Unit",
            description="Its unit: kg, lb, m, ft. Convert an old local unit first and say how in"
            " the remarks.",
            kind="unit",
        ),
        Column(
            name="statement",
            title="In words",
            description="The claim in words.",
            required=True,
        ),
        _remarks("claimRemarks"),
    ),
)

MOUNT_MEASUREMENTS = Table(
    name="mount_measurements",
    title="Measurements of the old mount",
    description=(
        "One row a measure of an earlier mount, over skin, that a bone of the skeleton answers to."
    ),
    key="measurementID",
    step="testimony",
    columns=(
        Column(
            name="measurementID",
            title="Measure",
            description="A name for this row that no other row of this table has.",
            required=True,
            example="mt-01",
        ),
        Column(
            name="mountID",
            title="Mount",
            description="Name of the mount.",
            required=True,
            example="mount-1",
        ),
        Column(
            name="title",
            title="What was measured",
            description="The part, in words: length of the lower leg.",
            required=True,
        ),
        Column(
            name="element",
            title="Element",
            description="The bone it answers to.",
            kind="choice",
            required=True,
            choices=ELEMENTS,
            example="tibiotarsus",
        ),
        Column(
            name="measurementType",
            title="Code",
            description="The bone measurement it answers to.",
            kind="choice",
            required=True,
            choices=tuple(MEASUREMENT_CODES),
            example="GL",
        ),
        *_measured(
            value="What the mount measures.",
            unit_example="mm",
            limit=_LENGTH_LIMIT,
            dimension="length",
        ),
        Column(
            name="allowanceLow",
            title="Least soft tissue",
            description="Least that skin, sheath and flesh may add to the bone, in the same unit.",
            kind="number",
            required=True,
            unit_column="measurementUnit",
            dimension="length",
            example="2",
        ),
        Column(
            name="allowanceHigh",
            title="Most soft tissue",
            description="Most that skin, sheath and flesh may add to the bone, in the same unit.",
            kind="number",
            required=True,
            unit_column="measurementUnit",
            dimension="length",
            example="9",
        ),
        _source(),
        _remarks("measurementRemarks"),
    ),
)

DECISIONS = Table(
    name="decisions",
    title="Decisions",
    description="What you decided about a doubtful row, and why. Nothing is dropped silently.",
    key="decisionID",
    step="study",
    columns=(
        Column(
            name="decisionID",
            title="Decision",
            description="A name for this decision that no other row of this table has.",
            required=True,
            example="dec-01",
        ),
        Column(
            name="tableName",
            title="Table",
            description="The table the row stands in.",
            kind="choice",
            required=True,
            choices=(
                "specimens",
                "measurements",
                "relatives",
                "relative_measurements",
                "sections",
                "bodies",
                "pictures",
                "picture_marks",
                "accounts",
                "claims",
                "mount_measurements",
            ),
            example="measurements",
        ),
        Column(
            name="rowID",
            title="Row",
            description="The row's name in that table (its first column).",
            required=True,
            example="m-0001",
        ),
        Column(
            name="decision",
            title="Decision",
            description="keep: the value is right, use it; set aside: do not use it.",
            kind="choice",
            required=True,
            choices=("keep", "set aside"),
            example="keep",
        ),
        Column(name="reason", title="Reason", description="Why.", required=True),
        Column(name="decidedBy", title="Decided by", description="Who decided."),
        Column(
            name="decidedDate",
            title="Date",
            description="When it was decided.",
            kind="date",
            example="2026-03-14",
        ),
    ),
)

TABLES: tuple[Table, ...] = (
    SOURCES,
    SPECIMENS,
    MEASUREMENTS,
    RELATIVES,
    RELATIVE_MEASUREMENTS,
    SECTIONS,
    BODIES,
    PICTURES,
    PICTURE_MARKS,
    ACCOUNTS,
    CLAIMS,
    MOUNT_MEASUREMENTS,
    DECISIONS,
)

TABLE_BY_NAME: dict[str, Table] = {table.name: table for table in TABLES}
