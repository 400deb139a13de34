"""The tables of the workshop: stock, materials, feathers, limits, and the finished model.

All are optional. A row replaces the program's own row of the same name; a new name adds to
them. The module is a list, not logic.
"""

from typing import Final

from bonewright.study.columns import Column, Limit, Table
from bonewright.study.workshop_defaults import BUILD_LIMITS, BUILD_MATERIALS, FEATHER_TRACTS, STOCK

__all__ = ["BUILD_USES", "MODEL_MEASUREMENTS", "STOCK_FORMS", "WORKSHOP_TABLES"]

STOCK_FORMS: Final = ("wire", "bar", "tube")
BUILD_USES: Final = (
    "clay",
    "foam",
    "resin",
    "plaster",
    "silicone",
    "paint",
    "base",
)


def _number(
    name: str,
    title: str,
    description: str,
    *,
    low: float,
    high: float,
    required: bool = True,
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


STOCK_TABLE: Final = Table(
    name="stock",
    title="Wire, bar and tube in stock",
    description=(
        "One row a size you can buy or have. Empty: the sizes that come with the program are used "
        f"({len(STOCK)} of them). Any row of your own replaces that whole list."
    ),
    key="stockID",
    step="workshop",
    columns=(
        Column(
            name="stockID",
            title="Stock",
            description="A name for this size that no other row of this table has.",
            required=True,
            example="bar 8",
        ),
        Column(
            name="stockForm",
            title="Form",
            description="wire (bends by hand), bar (solid round) or tube (round).",
            kind="choice",
            required=True,
            choices=STOCK_FORMS,
            example="bar",
        ),
        Column(
            name="stockMaterial",
            title="Material",
            description="What it is made of.",
            required=True,
            example="mild steel",
        ),
        _number(
            "diameter", "Diameter (mm)", "Outer diameter in mm.", low=0.2, high=300.0, example="8"
        ),
        _number(
            "wallThickness",
            "Wall (mm)",
            "Wall of a tube in mm; empty for wire and bar.",
            low=0.05,
            high=50.0,
            required=False,
            example="1.5",
        ),
        _number(
            "stockLength",
            "Length sold (mm)",
            "Length it is sold in, or that the coil holds, in mm.",
            low=50.0,
            high=1_000_000.0,
            example="3000",
        ),
        _number(
            "density", "Density (kg/L)", "Density in kg/L.", low=0.5, high=25.0, example="7.85"
        ),
        _number(
            "elasticModulus",
            "Elastic modulus (GPa)",
            "How stiff the material is, in GPa.",
            low=0.1,
            high=1000.0,
            example="210",
        ),
        _number(
            "yieldStrength",
            "Yield strength (MPa)",
            "Stress from which it stays bent, in MPa; the supplier's certificate says it.",
            low=1.0,
            high=3000.0,
            example="235",
        ),
        _source(),
        _remarks("stockRemarks"),
    ),
)

BUILD_MATERIALS_TABLE: Final = Table(
    name="build_materials",
    title="Materials of the figure",
    description=(
        "One row a material. A row replaces the program's own of the same name; the first row "
        f"for a use is the one that is ordered ({', '.join(m.material for m in BUILD_MATERIALS)} "
        "come with the program)."
    ),
    key="buildMaterial",
    step="workshop",
    columns=(
        Column(
            name="buildMaterial",
            title="Material",
            description="Its name, as you order it.",
            required=True,
            example="oil-based clay",
        ),
        Column(
            name="buildUse",
            title="Used as",
            description=f"What it serves for: {', '.join(BUILD_USES)}.",
            kind="choice",
            required=True,
            choices=BUILD_USES,
            example="clay",
        ),
        _number(
            "density",
            "Density (kg/L)",
            "Density when set or as used, in kg/L.",
            low=0.01,
            high=10.0,
            example="1.75",
        ),
        _number(
            "densityLow",
            "Low end (kg/L)",
            "Low end of the range that holds it 19 times in 20.",
            low=0.01,
            high=10.0,
            example="1.6",
        ),
        _number(
            "densityHigh",
            "High end (kg/L)",
            "High end of that range.",
            low=0.01,
            high=10.0,
            example="1.95",
        ),
        _number(
            "wastePercent",
            "Waste (%)",
            "What is spilt, trimmed or left in the pot, of the amount needed.",
            low=0.0,
            high=200.0,
            example="10",
        ),
        _number(
            "packAmount",
            "Pack",
            "How much a pack holds, in kg; of paint in litres.",
            low=0.001,
            high=1000.0,
            example="5",
        ),
        _source(),
        _remarks("materialRemarks"),
    ),
)

FEATHER_TRACTS_TABLE: Final = Table(
    name="feather_tracts",
    title="Feathers by tract",
    description=(
        "One row a segment of the body that bears feathers. A row replaces the program's own of "
        f"the same segment ({', '.join(t.segment for t in FEATHER_TRACTS)})."
    ),
    key="segmentID",
    step="workshop",
    columns=(
        Column(
            name="segmentID",
            title="Segment",
            description="The segment of the body, as the body plan names it.",
            required=True,
            example="neck top",
        ),
        Column(
            name="tract",
            title="Tract",
            description="Name of the feather tract, in your words.",
            required=True,
            example="neck",
        ),
        _number(
            "feathersPerArea",
            "Feathers per cm2",
            "Feathers on a square centimetre of the living animal's skin.",
            low=0.01,
            high=100.0,
            example="6",
        ),
        _number(
            "feathersLow",
            "Low end",
            "Low end of the range that holds it 19 times in 20.",
            low=0.01,
            high=100.0,
            example="3",
        ),
        _number(
            "feathersHigh",
            "High end",
            "High end of that range.",
            low=0.01,
            high=100.0,
            example="12",
        ),
        _number(
            "lengthOverDepth",
            "Feather length over plumage depth",
            "How many times as long a feather is as the plumage there is deep.",
            low=0.5,
            high=20.0,
            example="2.2",
        ),
        _source(),
        _remarks("tractRemarks"),
    ),
)

BUILD_LIMITS_TABLE: Final = Table(
    name="build_limits",
    title="Limits and allowances of the build",
    description=(
        "One row a limit of your own, in the unit its name says. Empty: those of the program."
    ),
    key="limit",
    step="workshop",
    columns=(
        Column(
            name="limit",
            title="Limit",
            description="Which limit, its unit in its name; docs/workshop-defaults.md says what"
            " each means and the program's own value.",
            kind="choice",
            required=True,
            choices=tuple(limit.limit for limit in BUILD_LIMITS),
            example="tilt (degrees)",
        ),
        _number(
            "limitValue",
            "Value",
            "The limit, in the unit its name says.",
            low=0.0,
            high=1_000_000.0,
            example="10",
        ),
        Column(
            name="reason",
            title="Reason",
            description="Why: a local code, an engineer's word, the gallery's rule.",
            required=True,
        ),
        _source(),
    ),
)

MODEL_MEASUREMENTS: Final = Table(
    name="model_measurements",
    title="Measurements of the finished model",
    description=(
        "One row a measure taken on a model that was built, as the check card of the workshop "
        "pack lists them; it is held against the bones."
    ),
    key="measurementID",
    step="body",
    columns=(
        Column(
            name="measurementID",
            title="Row",
            description="A name for this row that no other row of this table has.",
            required=True,
            example="mm-01",
        ),
        Column(
            name="modelID",
            title="Model",
            description="Name of the model.",
            required=True,
            example="model-1",
        ),
        Column(
            name="modelMeasure",
            title="Measure",
            description="What was measured, in the words of the check card.",
            required=True,
            example="left hip to left knee",
        ),
        Column(
            name="bodyState",
            title="State",
            description="The state of fatness the model shows.",
            kind="choice",
            required=True,
            choices=("lean", "mean", "fat"),
            example="mean",
        ),
        Column(
            name="modelLayer",
            title="Layer",
            description="What its surface shows: skeleton, naked or feathered.",
            kind="choice",
            required=True,
            choices=("skeleton", "naked", "feathered"),
            example="naked",
        ),
        _number(
            "scaleDenominator",
            "Scale 1 to",
            "n of the scale 1:n the model was built at; 1 is life size.",
            low=0.1,
            high=1000.0,
            example="4",
        ),
        Column(
            name="measurementValue",
            title="Value",
            description="What was measured on the model.",
            kind="number",
            required=True,
            unit_column="measurementUnit",
            dimension="length",
            limit=Limit(low=0.2, high=10000.0, unit="mm"),
            minimum=0.0,
            exclusive=True,
            example="40.5",
        ),
        Column(
            name="measurementUnit",
            title="Unit",
            description="Unit of the value.",
            kind="unit",
            required=True,
            example="mm",
        ),
        _remarks("measurementRemarks"),
    ),
)

WORKSHOP_TABLES: Final = (
    STOCK_TABLE,
    BUILD_MATERIALS_TABLE,
    FEATHER_TRACTS_TABLE,
    BUILD_LIMITS_TABLE,
)
