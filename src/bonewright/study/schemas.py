"""The tables of a study, in one place.

The check, ``datapackage.json``, the blank study and the documentation of every column
are all generated from :data:`TABLES`. Names are Darwin Core terms wherever the standard
has one. The module is long because it is a list, not logic.
"""

from typing import Literal

from bonewright.study.bone_codes import ELEMENTS, MEASUREMENT_CODES
from bonewright.study.columns import Column, Limit, Table
from bonewright.study.workshop_tables import MODEL_MEASUREMENTS, WORKSHOP_TABLES

__all__ = [
    "ELEMENTS",
    "LANDMARKS",
    "MEASUREMENT_CODES",
    "MIDLINE_ELEMENTS",
    "OUTLINE",
    "SCORES",
    "TABLES",
    "TABLE_BY_NAME",
]

MIDLINE_ELEMENTS = frozenset({"skull", "mandible", "sternum", "furcula", "pelvis"})

# Points that can be found again on almost any picture of a bird seen from the side, from the
# bill backwards and down.
LANDMARKS: dict[str, str] = {
    "bill tip": "foremost point of the upper bill",
    "bill middle": "upper edge of the bill, halfway along",
    "bill root": "where the upper edge of the bill meets the forehead",
    "crown": "highest point of the head",
    "throat": "lowest point of the head, below the crown",
    "back of head": "hindmost point of the head",
    "eye": "middle of the eye",
    "breast": "foremost point of the trunk",
    "back": "highest point of the trunk",
    "belly": "lowest point of the trunk",
    "tail root": "where the upper edge of the tail meets the back",
    "hip": "hip joint, where it can be seen or felt",
    "knee": "knee joint, where it can be seen or felt",
    "heel joint": "the joint between lower leg and shank",
    "toe root": "where the toes leave the shank",
    "scale start": "one end of a length that is known",
    "scale end": "the other end of that length",
}
OUTLINE = "outline"
SCORES: dict[str, str] = {
    "fatness": "1 very lean, 2 lean, 3 middling, 4 fat, 5 very fat",
    "posture": "1 trunk level, 3 half raised, 5 trunk upright",
    "plumage": "1 close and sleek, 3 ordinary, 5 loose or fluffed up",
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
            extended_by="codes",
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

CODES = Table(
    name="codes",
    title="Codes of your own",
    description="Measurements that the list of codes lacks: one row a code and element.",
    key="codeID",
    step="skeleton",
    columns=(
        Column(
            name="codeID",
            title="Row",
            description="A name for this row that no other row of this table has.",
            required=True,
            example="code-01",
        ),
        Column(
            name="measurementType",
            title="Code",
            description="The code, yours to choose: letters and digits, no blank.",
            required=True,
            example="Lt",
        ),
        Column(
            name="element",
            title="Element",
            description="Which bone it is taken on; empty for any.",
            kind="choice",
            choices=ELEMENTS,
            example="femur",
        ),
        Column(
            name="measurementMeaning",
            title="Meaning",
            description="From where to where the callipers go, in your words.",
            required=True,
            example="length to the third trochanter",
        ),
        _source(),
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
            extended_by="codes",
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


EQUATIONS = Table(
    name="equations",
    title="Published equations",
    description=(
        "One row a published equation, log(mass) = intercept + slope x log(factor x measurement),"
        " shown beside the lines fitted here. Some come with the program; a row of the same name"
        " replaces one."
    ),
    key="equationID",
    step="relatives",
    columns=(
        Column(
            name="equationID",
            title="Equation",
            description="A name for this row that no other row of this table has.",
            required=True,
            example="ground-birds-femur",
        ),
        Column(
            name="animals",
            title="Animals",
            description="Which animals it was fitted to.",
            required=True,
            example="ground birds",
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
            extended_by="codes",
            example="CD",
        ),
        Column(
            name="logarithm",
            title="Logarithm",
            description="Base of the logarithms: 10 or e.",
            kind="choice",
            required=True,
            choices=("10", "e"),
            example="10",
        ),
        Column(
            name="intercept",
            title="Intercept",
            description="As printed, in that logarithm and those units.",
            kind="number",
            required=True,
            example="-0.2",
        ),
        Column(
            name="slope",
            title="Slope",
            description="As printed.",
            kind="number",
            required=True,
            minimum=0.2,
            maximum=6.0,
            example="2.5",
        ),
        Column(
            name="massUnit",
            title="Mass in",
            description="Unit of the mass in the equation.",
            kind="choice",
            required=True,
            choices=("g", "kg"),
            example="g",
        ),
        Column(
            name="lengthUnit",
            title="Measurement in",
            description="Unit of the measurement in the equation, and of its range.",
            kind="choice",
            required=True,
            choices=("mm", "cm"),
            example="mm",
        ),
        Column(
            name="measurementFactor",
            title="Factor",
            description="What the measurement is multiplied by first; 1 if empty.",
            kind="number",
            minimum=0.0,
            exclusive=True,
        ),
        Column(
            name="standardError",
            title="Standard error of estimate",
            description="Scatter of animals about the line, in that logarithm.",
            kind="number",
            minimum=0.0,
            maximum=3.0,
            example="0.06",
        ),
        Column(
            name="individualCount",
            title="Number",
            description="How many animals or species it rests on.",
            kind="integer",
            minimum=1.0,
            example="45",
        ),
        Column(
            name="rangeLow",
            title="Smallest",
            description="Smallest measurement it was fitted to.",
            kind="number",
            minimum=0.0,
            exclusive=True,
            example="8",
        ),
        Column(
            name="rangeHigh",
            title="Largest",
            description="Largest measurement it was fitted to.",
            kind="number",
            minimum=0.0,
            exclusive=True,
            example="95",
        ),
        _source(),
        _remarks("equationRemarks"),
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
        _section_number(
            "wallMedial",
            "Wall, medial",
            "Instead of the marrow space: thickness of the wall on the medial side.",
        ),
        _section_number("wallLateral", "Wall, lateral", "Thickness of the lateral wall."),
        _section_number("wallAnterior", "Wall, front", "Thickness of the anterior wall."),
        _section_number("wallPosterior", "Wall, back", "Thickness of the posterior wall."),
        Column(
            name="outlineFile",
            title="Outline file",
            description="Instead of diameters: a file in files/ with the outer edge and the marrow"
            " space as closed lines. CSV with columns ring, x, y (ring 0 outer, 1 and up holes;"
            " x mediolateral, lateral positive; y anteroposterior, anterior positive), SVG or DXF.",
            kind="file",
            example="outlines/sec-09.csv",
        ),
        Column(
            name="measurementAccuracy",
            title="Accuracy",
            description="Smallest division of the callipers, or how far the edge of the outline"
            " may be off, in the unit of this row.",
            kind="number",
            minimum=0.0,
            example="0.05",
        ),
        Column(
            name="axisOffset",
            title="Bow of the shaft",
            description="How far the middle of the section lies off the straight line through the"
            " ends of the bone, in the unit of this row.",
            kind="number",
            unit_column="measurementUnit",
            dimension="length",
            minimum=0.0,
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


def _model_weight(name: str, title: str, description: str) -> Column:
    return Column(
        name=name,
        title=title,
        description=description,
        kind="number",
        unit_column="weightUnit",
        dimension="mass",
        limit=Limit(low=0.001, high=2000.0, unit="kg"),
        minimum=0.0,
        exclusive=True,
    )


def _plain(
    name: str,
    title: str,
    description: str,
    *,
    low: float,
    high: float,
    required: bool = False,
    example: str = "",
) -> Column:
    return Column(
        name=name,
        title=title,
        description=description,
        kind="number",
        required=required,
        minimum=low,
        maximum=high,
        example=example,
    )


def _bone_named(*, required: bool, of: str) -> tuple[Column, Column]:
    return (
        Column(
            name="element",
            title="Element",
            description=f"The bone that {of}.",
            kind="choice",
            required=required,
            choices=ELEMENTS,
            example="femur",
        ),
        Column(
            name="measurementType",
            title="Code",
            description="The measurement of that bone.",
            kind="choice",
            required=required,
            choices=tuple(MEASUREMENT_CODES),
            extended_by="codes",
            example="GL",
        ),
    )


BODIES = Table(
    name="bodies",
    title="Body models",
    description=(
        "One row a reading of a maquette's volume; repeats are further rows. The volume comes in"
        " one of three ways: displaced water, weight in air and in water, or weight in air and"
        " the density of the modelling material."
    ),
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
        Column(
            name="measurementValue",
            title="Volume displaced",
            description="Volume of water displaced, armature included. Empty where the model was"
            " weighed instead.",
            kind="number",
            unit_column="measurementUnit",
            dimension="volume",
            limit=Limit(low=1e-6, high=3.0, unit="m3"),
            minimum=0.0,
            exclusive=True,
        ),
        Column(
            name="measurementUnit",
            title="Unit of volume",
            description="Unit of the volumes in this row.",
            kind="unit",
            required=True,
            example="mL",
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
        _model_weight("weightInAir", "Weight in air", "What the model weighs dry."),
        _model_weight(
            "weightInWater",
            "Weight in water",
            "What it weighs hung in water, wholly under; with the weight in air this gives the"
            " volume. The clay must be sealed.",
        ),
        _model_weight(
            "armatureWeight",
            "Weight of the armature",
            "Weight of wire and base in the weight in air. Only with the density of the material.",
        ),
        Column(
            name="weightUnit",
            title="Unit of weight",
            description="Unit of the weights in this row.",
            kind="unit",
            example="g",
        ),
        Column(
            name="materialDensity",
            title="Density of the material",
            description="Density of the modelling material in kg/L (the same as g/mL); weigh a"
            " piece of known volume. With the weight in air this gives the volume.",
            kind="number",
            minimum=0.2,
            maximum=5.0,
            example="1.75",
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

BODY_SEGMENTS = Table(
    name="body_segments",
    title="Segments of the body",
    description=(
        "One row a segment of the body plan: its axis, and the joint by which it hangs on another."
        " Empty: the plan of a ground bird is used. A row replaces the plan's segment of that name."
    ),
    key="segmentID",
    step="body",
    columns=(
        Column(
            name="segmentID",
            title="Segment",
            description="Its name, such as trunk, thigh or beak.",
            required=True,
            example="trunk",
        ),
        Column(
            name="parentSegment",
            title="Hangs on",
            description="The segment it hangs on. Empty for the one that all others hang on;"
            " such a row replaces the whole plan.",
            example="trunk",
        ),
        Column(
            name="sides",
            title="Sides",
            description="midline (one), or paired (left and right).",
            kind="choice",
            required=True,
            choices=("midline", "paired"),
            example="paired",
        ),
        *_bone_named(required=True, of="gives the length of its axis"),
        _plain(
            "lengthRatio",
            "Length over bone",
            "Length of the axis over that measurement.",
            low=0.01,
            high=20.0,
            required=True,
            example="1",
        ),
        _plain(
            "attachAlong",
            "Joint along (%)",
            "Where on the other's axis it hangs, in percent of its length.",
            low=-50.0,
            high=150.0,
            required=True,
            example="100",
        ),
        _plain(
            "attachUp",
            "Joint up (%)",
            "How far above that axis (towards the back), in percent of the other's length.",
            low=-200.0,
            high=200.0,
        ),
        _plain(
            "attachOut",
            "Joint out (%)",
            "How far to the side of that axis, in percent of the other's length.",
            low=-200.0,
            high=200.0,
        ),
        _plain(
            "jointAngle",
            "Angle (degrees)",
            "How far it is turned from the other's axis, towards the back where positive.",
            low=-360.0,
            high=360.0,
            required=True,
            example="-50",
        ),
        _plain(
            "jointLowest",
            "Least angle (degrees)",
            "Least angle the joint allows.",
            low=-360.0,
            high=360.0,
            required=True,
            example="-125",
        ),
        _plain(
            "jointHighest",
            "Greatest angle (degrees)",
            "Greatest angle the joint allows.",
            low=-360.0,
            high=360.0,
            required=True,
            example="-5",
        ),
        _plain(
            "splay",
            "Splay (degrees)",
            "How far it is turned outwards about its own back.",
            low=-180.0,
            high=180.0,
        ),
        _plain(
            "bend",
            "Bend (degrees)",
            "How far its axis bends from its first to its last point, towards the back.",
            low=-180.0,
            high=180.0,
        ),
        _plain(
            "balance",
            "Balances",
            "How much the joint turns to bring the body over its feet: 1 with, -1 against, empty"
            " not at all.",
            low=-3.0,
            high=3.0,
        ),
        Column(
            name="onGround",
            title="On the ground",
            description="yes for the parts it stands on.",
            kind="yes-no",
        ),
        _plain(
            "bonePercent",
            "Bone (%)",
            "Bone in percent of its volume.",
            low=0.0,
            high=90.0,
            required=True,
            example="6",
        ),
        _plain(
            "airPercent",
            "Air (%)",
            "Lungs and air sacs in percent of its volume.",
            low=0.0,
            high=60.0,
        ),
        _plain(
            "fatShare",
            "Fat under its skin",
            "How fat lies under its skin, 1 as on the trunk, 0 none.",
            low=0.0,
            high=5.0,
        ),
        _plain(
            "plumagePercent",
            "Plumage (%)",
            "Depth of the plumage in percent of its half-width.",
            low=0.0,
            high=500.0,
        ),
        _source(),
        _remarks("segmentRemarks"),
    ),
)

BODY_HOOPS = Table(
    name="body_hoops",
    title="Hoops of the body",
    description=(
        "One row a hoop across a segment's axis. Its sizes are given over a bone measurement, or"
        " over the segment's length. Hoops of a segment replace those of the ground bird's plan."
    ),
    key="hoopID",
    step="body",
    columns=(
        Column(
            name="hoopID",
            title="Hoop",
            description="A name for this hoop that no other row of this table has.",
            required=True,
            example="h-01",
        ),
        Column(
            name="segmentID",
            title="Segment",
            description="The segment it belongs to.",
            required=True,
            example="trunk",
        ),
        _plain(
            "station",
            "Station (%)",
            "Where on the axis it stands, in percent of its length; a rounded end may reach a"
            " little below 0 or above 100.",
            low=-50.0,
            high=150.0,
            required=True,
            example="50",
        ),
        *_bone_named(required=False, of="its sizes are given over; empty: the segment's length"),
        _plain(
            "halfWidthRatio",
            "Half-width",
            "Half its width over that measurement.",
            low=0.0,
            high=20.0,
            required=True,
            example="1.2",
        ),
        _plain(
            "dorsalRatio",
            "Height above",
            "Height above the axis over that measurement.",
            low=0.0,
            high=20.0,
            required=True,
            example="0.7",
        ),
        _plain(
            "ventralRatio",
            "Depth below",
            "Depth below the axis over that measurement.",
            low=0.0,
            high=20.0,
            required=True,
            example="1.5",
        ),
        Column(
            name="tissueThickness",
            title="Tissue beside",
            description="Thickness of tissue added to each of the three.",
            kind="number",
            unit_column="measurementUnit",
            dimension="length",
            limit=Limit(low=0.0, high=500.0, unit="mm"),
            minimum=0.0,
        ),
        Column(
            name="measurementUnit",
            title="Unit",
            description="Unit of the thickness.",
            kind="unit",
            example="mm",
        ),
        _plain(
            "dorsalExponent",
            "Shape above",
            "2 an ellipse (so too if empty), more is boxier.",
            low=1.0,
            high=10.0,
            example="2",
        ),
        _plain(
            "ventralExponent",
            "Shape below",
            "As above, for the half below the axis.",
            low=1.0,
            high=10.0,
            example="2",
        ),
        _source(),
        _remarks("hoopRemarks"),
    ),
)

TISSUES = Table(
    name="tissues",
    title="Densities of tissues",
    description="One row a tissue. Empty: the densities that come with the program are used.",
    key="tissue",
    step="body",
    columns=(
        Column(
            name="tissue",
            title="Tissue",
            description="muscle (with the organs), fat, skin or bone (whole, with marrow).",
            kind="choice",
            required=True,
            choices=("muscle", "fat", "skin", "bone"),
            example="muscle",
        ),
        _plain(
            "density",
            "Density (kg/L)",
            "Best value in kg/L.",
            low=0.2,
            high=3.0,
            required=True,
            example="1.05",
        ),
        _plain(
            "densityLow",
            "Low end (kg/L)",
            "Low end of the range that holds it 19 times in 20.",
            low=0.2,
            high=3.0,
            required=True,
            example="1.04",
        ),
        _plain(
            "densityHigh",
            "High end (kg/L)",
            "High end of that range.",
            low=0.2,
            high=3.0,
            required=True,
            example="1.06",
        ),
        _source(),
        _remarks("tissueRemarks"),
    ),
)

LOST_PARTS = Table(
    name="lost_parts",
    title="Lost parts",
    description=(
        "One row a part that does not fossilise, measured on one living relative over one of its"
        " bones (or over its body mass)."
    ),
    key="partID",
    step="body",
    columns=(
        Column(
            name="partID",
            title="Row",
            description="A name for this row that no other row of this table has.",
            required=True,
            example="p-01",
        ),
        Column(
            name="part",
            title="Part",
            description="Which part.",
            kind="choice",
            required=True,
            choices=(
                "beak sheath length",
                "beak sheath depth",
                "beak hook length",
                "claw length",
                "eye diameter",
                "skin thickness",
                "leg muscle mass",
                "breast muscle mass",
                "plumage mass",
            ),
            example="beak sheath length",
        ),
        Column(
            name="scientificName",
            title="Species",
            description="The living relative it was measured on.",
            required=True,
            example="Invented species",
        ),
        *_bone_named(required=False, of="it is given over; empty for masses, over body mass"),
        _plain(
            "ratio",
            "Part over bone",
            "The part over the bone (mm over mm), or over body mass (kg over kg).",
            low=0.0001,
            high=20.0,
            required=True,
            example="1.18",
        ),
        _source(),
        _remarks("partRemarks"),
    ),
)

BODY_SCANS = Table(
    name="body_scans",
    title="Scans",
    description="One row a 3D scan of a body model, or of one part of a mounted skeleton.",
    key="scanID",
    step="body",
    columns=(
        Column(
            name="scanID",
            title="Scan",
            description="A name for this scan that no other row of this table has.",
            required=True,
            example="scan-1",
        ),
        Column(
            name="scanFile",
            title="File",
            description="STL, PLY, OBJ or GLB file in files/.",
            kind="file",
            required=True,
            example="scans/maquette.stl",
        ),
        Column(
            name="scanOf",
            title="What it shows",
            description="body (the fleshed body, closed) or skeleton (bones of one part, whose"
            " convex hull is taken).",
            kind="choice",
            required=True,
            choices=("body", "skeleton"),
            example="body",
        ),
        Column(
            name="bodyState",
            title="State",
            description="How fat a body is meant to be: lean, mean or fat. Skeletons: mean.",
            kind="choice",
            required=True,
            choices=("lean", "mean", "fat"),
            example="mean",
        ),
        Column(
            name="bodyID",
            title="Model",
            description="Name of the model or mount; scans of parts of one skeleton share it.",
            required=True,
            example="maquette-1",
        ),
        _plain(
            "scaleDenominator",
            "Scale 1 to",
            "4 for a model at 1:4, 1 for life size.",
            low=1.0,
            high=50.0,
            required=True,
            example="4",
        ),
        Column(
            name="lengthUnit",
            title="Unit of the file",
            description="What one unit of length in the file is. Scanners seldom write it down.",
            kind="unit",
            required=True,
            example="mm",
        ),
        Column(
            name="checkLength",
            title="A length on the scan",
            description="One bone's length as it stands on the scan, taken in the scanning"
            " program, in the unit of the file. It is held against the average skeleton.",
            kind="number",
            required=True,
            unit_column="lengthUnit",
            dimension="length",
            minimum=0.0,
            exclusive=True,
            example="41.5",
        ),
        *_bone_named(required=True, of="that length belongs to"),
        _source(),
        _remarks("scanRemarks"),
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
            description="When it was made, as in the open date format EDTF: year, year-month or"
            " year-month-day; two of them with a slash for a span (1650/1655); 1650~ for about,"
            " 1650? for doubtful, 165X for a decade.",
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
        Column(
            name="shows",
            title="Shows",
            description="animal, or mount for a photograph of an earlier mount. Empty means"
            " animal; a mount is audited and is no witness.",
            kind="choice",
            choices=("animal", "mount"),
            example="animal",
        ),
        Column(
            name="scaleLength",
            title="Scale",
            description="True length between the marks 'scale start' and 'scale end', if the"
            " picture shows a length that is known.",
            kind="number",
            unit_column="scaleUnit",
            dimension="length",
            minimum=0.0,
            exclusive=True,
        ),
        Column(
            name="scaleUnit",
            title="Scale unit",
            description="Unit of the scale.",
            kind="unit",
            example="mm",
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
            description=". ".join(f"{kind}: {points}" for kind, points in SCORES.items()) + ".",
            kind="choice",
            required=True,
            choices=tuple(SCORES),
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

PICTURE_LANDMARKS = Table(
    name="landmarks",
    title="Marks on pictures",
    description=(
        "One row a point marked on a picture, in pixels of the upright picture. Best made on the"
        " page, by each observer in two rounds that do not see each other."
    ),
    key="landmarkID",
    step="testimony",
    columns=(
        Column(
            name="landmarkID",
            title="Mark",
            description="A name for this mark that no other row of this table has.",
            required=True,
            example="lm-0001",
        ),
        Column(
            name="pictureID",
            title="Picture",
            description="The picture marked.",
            required=True,
            refers_to="pictures",
        ),
        Column(
            name="landmark",
            title="Point",
            description="; ".join(f"{name}: {where}" for name, where in LANDMARKS.items())
            + "; outline: a point of the traced outline.",
            kind="choice",
            required=True,
            choices=(*LANDMARKS, OUTLINE),
            example="bill tip",
        ),
        Column(
            name="pointOrder",
            title="Order",
            description="For points of the outline: 1, 2, 3 … along it.",
            kind="integer",
            minimum=1.0,
        ),
        Column(
            name="xPixel",
            title="From the left (px)",
            description="Pixels from the left edge of the upright picture.",
            kind="number",
            required=True,
            minimum=0.0,
            example="312.5",
        ),
        Column(
            name="yPixel",
            title="From the top (px)",
            description="Pixels from the top edge of the upright picture.",
            kind="number",
            required=True,
            minimum=0.0,
            example="148",
        ),
        Column(
            name="measurementDeterminedBy",
            title="Observer",
            description="Who marked.",
            required=True,
            example="observer A",
        ),
        Column(
            name="markingRound",
            title="Round",
            description="1 for an observer's first marking of the picture, 2 for the second.",
            kind="integer",
            required=True,
            minimum=1.0,
            maximum=20.0,
            example="1",
        ),
        Column(
            name="pictureChecksum",
            title="Checksum",
            description="SHA-256 of the picture file that was marked, so that marks are never"
            " laid on another file. The page fills it in.",
        ),
        _remarks("landmarkRemarks"),
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
        Column(name="locality", title="Place", description="Where it was written or tells of."),
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
            choices=("weight", "height", "length", "tail", "fatness", "movement", "other"),
            example="weight",
        ),
        Column(
            name="measurementValue",
            title="Value",
            description="The number claimed, for weight, height and length.",
            kind="number",
            minimum=0.0,
            exclusive=True,
        ),
        Column(
            name="measurementUnit",
            title="Unit",
            description="Its unit: kg, lb, m, ft, or the name of an old unit of the units table.",
            kind="unit",
        ),
        Column(
            name="statement",
            title="In words",
            description="The claim in words.",
            required=True,
        ),
        Column(
            name="passageLocation",
            title="Where it stands",
            description="Page, folio or line of the passage.",
            example="fol. 12 verso",
        ),
        Column(
            name="observerDistance",
            title="Observer's distance",
            description="How near the one who saw it was: in the hand, near, far or not said.",
            kind="choice",
            choices=("in the hand", "near", "far", "not said"),
            example="near",
        ),
        Column(
            name="likelihoodRatio",
            title="Your likelihood ratio",
            description="Yours alone, if you give one: how many times likelier this claim is if"
            " what stands in the next column is true than if it is false.",
            kind="number",
            minimum=0.0,
            exclusive=True,
        ),
        Column(
            name="likelihoodRatioFor",
            title="For what",
            description="The statement your likelihood ratio speaks for (above 1) or against. Where"
            " it is the title or ID of a rival hypothesis, the ratio enters that one's odds.",
        ),
        _remarks("claimRemarks"),
    ),
)

UNITS = Table(
    name="units",
    title="Old units",
    description=(
        "One row an old local unit that accounts use, with what it may have been: best value and"
        " the range that holds it 19 times in 20."
    ),
    key="unitID",
    step="testimony",
    columns=(
        Column(
            name="unitID",
            title="Old unit",
            description="Its name, as the claims write it.",
            required=True,
            example="harbour pound",
        ),
        Column(
            name="unitValue",
            title="Best value",
            description="What one of it was, in the unit beside.",
            kind="number",
            required=True,
            minimum=0.0,
            exclusive=True,
            example="0.494",
        ),
        Column(
            name="unitLow",
            title="Low",
            description="Low end of the range.",
            kind="number",
            required=True,
            minimum=0.0,
            exclusive=True,
            example="0.46",
        ),
        Column(
            name="unitHigh",
            title="High",
            description="High end of the range.",
            kind="number",
            required=True,
            minimum=0.0,
            exclusive=True,
            example="0.51",
        ),
        Column(
            name="measurementUnit",
            title="In",
            description="Present unit of the three numbers: kg, g, m, cm.",
            kind="unit",
            required=True,
            example="kg",
        ),
        Column(name="locality", title="Place", description="Where and when it was used."),
        _source(),
        _remarks("unitRemarks"),
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
            extended_by="codes",
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
                "equations",
                "sections",
                "bodies",
                "body_segments",
                "body_hoops",
                "tissues",
                "lost_parts",
                "body_scans",
                "pictures",
                "picture_marks",
                "landmarks",
                "accounts",
                "claims",
                "units",
                "mount_measurements",
                "model_measurements",
                "strength_indicators",
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

STRENGTH_INDICATORS = Table(
    name="strength_indicators",
    title="Strength indicators from publications",
    description="Bending strength indicators of living animals that others have published, to"
    " stand beside those computed from your own rows of sections. They count in the comparison"
    " only if study.toml says so (comparison_with_published).",
    key="indicatorID",
    step="movement",
    columns=(
        Column(
            name="indicatorID",
            title="Indicator",
            description="A name for this row that no other row of this table has.",
            required=True,
            example="ind-01",
        ),
        Column(
            name="animal",
            title="Animal",
            description="The living animal, as the report should call it.",
            required=True,
            example="domestic sheep",
        ),
        Column(
            name="element",
            title="Element",
            description="Which leg bone; a mammal's tibia answers to the tibiotarsus.",
            kind="choice",
            required=True,
            choices=("femur", "tibiotarsus", "tarsometatarsus"),
            example="femur",
        ),
        Column(
            name="strengthIndicator",
            title="Strength indicator (GPa^-1)",
            description="Z / (a m g x) as printed, in GPa^-1 (the same as m2/GN).",
            kind="number",
            required=True,
            minimum=0.1,
            maximum=1000.0,
            example="20",
        ),
        Column(
            name="locomotion",
            title="Way of moving",
            description="How it mostly gets about: runner, walker, wader, swimmer, percher, flyer.",
            kind="choice",
            required=True,
            choices=("runner", "walker", "wader", "swimmer", "percher", "flyer"),
            example="runner",
        ),
        _source(),
        _remarks("indicatorRemarks"),
    ),
)

HYPOTHESES = Table(
    name="hypotheses",
    title="Rival hypotheses",
    description="Rival ideas of the animal's condition over the year, to be held side by side.",
    key="hypothesisID",
    step="judgement",
    columns=(
        Column(
            name="hypothesisID",
            title="Hypothesis",
            description="A name for this hypothesis that no other row of this table has.",
            required=True,
            example="hyp-1",
        ),
        Column(
            name="hypothesisTitle",
            title="Title",
            description="The hypothesis in a few words, as the report prints it.",
            required=True,
            example="lean all year",
        ),
        Column(
            name="leanSeasonState",
            title="State in the lean season",
            description="How fat it was when food was scarcest, by this hypothesis.",
            kind="choice",
            required=True,
            choices=("lean", "mean", "fat"),
            example="lean",
        ),
        Column(
            name="fatSeasonState",
            title="State in the fat season",
            description="How fat it was when food was richest, by this hypothesis.",
            kind="choice",
            required=True,
            choices=("lean", "mean", "fat"),
            example="fat",
        ),
        Column(
            name="priorPercent",
            title="Prior (%)",
            description="How likely you thought it before looking, in percent. Leave it empty in"
            " every row and no odds are given.",
            kind="number",
            minimum=0.0,
            maximum=100.0,
            exclusive=True,
            example="50",
        ),
        Column(
            name="reason",
            title="Reason",
            description="Who holds it, or why it is worth a thought.",
            required=True,
        ),
    ),
)

LINE_DECISIONS = Table(
    name="line_decisions",
    title="Decisions on lines of evidence",
    description="Estimates of mass that you count in the verdict, or leave out of it, against"
    " the usual rule. The reason is printed with the verdict.",
    key="lineID",
    step="judgement",
    columns=(
        Column(
            name="lineID",
            title="Line of evidence",
            description="The key of the estimate, as findings.json and the page name it.",
            required=True,
            example="body.mass.maquette-1",
        ),
        Column(
            name="decision",
            title="Decision",
            description="pool: count it in the verdict; set aside: leave it out.",
            kind="choice",
            required=True,
            choices=("pool", "set aside"),
            example="set aside",
        ),
        Column(name="reason", title="Reason", description="Why.", required=True),
    ),
)

TABLES: tuple[Table, ...] = (
    SOURCES,
    SPECIMENS,
    MEASUREMENTS,
    CODES,
    RELATIVES,
    RELATIVE_MEASUREMENTS,
    EQUATIONS,
    SECTIONS,
    BODIES,
    BODY_SEGMENTS,
    BODY_HOOPS,
    TISSUES,
    LOST_PARTS,
    BODY_SCANS,
    MODEL_MEASUREMENTS,
    PICTURES,
    PICTURE_MARKS,
    PICTURE_LANDMARKS,
    ACCOUNTS,
    CLAIMS,
    UNITS,
    MOUNT_MEASUREMENTS,
    STRENGTH_INDICATORS,
    HYPOTHESES,
    LINE_DECISIONS,
    *WORKSHOP_TABLES,
    DECISIONS,
)

TABLE_BY_NAME: dict[str, Table] = {table.name: table for table in TABLES}
