"""Rows of the workshop's tables, and how checked cells become them."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from bonewright.findings import RowRef

if TYPE_CHECKING:
    from bonewright.study.table_rows import TableRow

__all__ = [
    "BuildLimit",
    "BuildMaterial",
    "FeatherTract",
    "ModelMeasurement",
    "StockItem",
    "build_limit",
    "build_material",
    "feather_tract",
    "model_measurement",
    "stock_item",
]

_KG_M3_PER_KG_L = 1000.0
_MPA_PER_GPA = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class StockItem:
    """A row of stock.csv: round wire, bar or tube; ``wall_mm`` is None where it is solid."""

    ref: RowRef | None
    stock_id: str
    form: str
    material: str
    diameter_mm: float
    wall_mm: float | None
    length_mm: float
    density_kg_m3: float
    elastic_modulus_mpa: float
    yield_strength_mpa: float
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildMaterial:
    """A row of build_materials.csv; ``pack`` is in kg, of paint in litres."""

    ref: RowRef | None
    material: str
    use: str
    density_kg_m3: float
    low_kg_m3: float
    high_kg_m3: float
    waste_percent: float
    pack: float
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FeatherTract:
    """A row of feather_tracts.csv, counts on a cm2 of the living skin."""

    ref: RowRef | None
    segment: str
    tract: str
    per_cm2: float
    low_per_cm2: float
    high_per_cm2: float
    length_over_depth: float
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildLimit:
    """A row of build_limits.csv; the unit stands in the limit's name."""

    ref: RowRef | None
    limit: str
    value: float
    meaning: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelMeasurement:
    """A row of model_measurements.csv, at the model's scale."""

    ref: RowRef
    model_id: str
    measure: str
    state: str
    layer: str
    scale_denominator: float
    value_mm: float


def stock_item(row: "TableRow") -> StockItem:
    """Return a row of stock."""
    return StockItem(
        ref=row.ref,
        stock_id=row.text("stockID"),
        form=row.text("stockForm"),
        material=row.text("stockMaterial"),
        diameter_mm=row.number("diameter"),
        wall_mm=row.optional_number("wallThickness"),
        length_mm=row.number("stockLength"),
        density_kg_m3=row.number("density") * _KG_M3_PER_KG_L,
        elastic_modulus_mpa=row.number("elasticModulus") * _MPA_PER_GPA,
        yield_strength_mpa=row.number("yieldStrength"),
        source=_source_of(row),
    )


def build_material(row: "TableRow") -> BuildMaterial:
    """Return a row of build_materials."""
    return BuildMaterial(
        ref=row.ref,
        material=row.text("buildMaterial"),
        use=row.text("buildUse"),
        density_kg_m3=row.number("density") * _KG_M3_PER_KG_L,
        low_kg_m3=row.number("densityLow") * _KG_M3_PER_KG_L,
        high_kg_m3=row.number("densityHigh") * _KG_M3_PER_KG_L,
        waste_percent=row.number("wastePercent"),
        pack=row.number("packAmount"),
        source=_source_of(row),
    )


def feather_tract(row: "TableRow") -> FeatherTract:
    """Return a row of feather_tracts."""
    return FeatherTract(
        ref=row.ref,
        segment=row.text("segmentID"),
        tract=row.text("tract"),
        per_cm2=row.number("feathersPerArea"),
        low_per_cm2=row.number("feathersLow"),
        high_per_cm2=row.number("feathersHigh"),
        length_over_depth=row.number("lengthOverDepth"),
        source=_source_of(row),
    )


def build_limit(row: "TableRow") -> BuildLimit:
    """Return a row of build_limits."""
    return BuildLimit(
        ref=row.ref,
        limit=row.text("limit"),
        value=row.number("limitValue"),
        meaning=row.text("reason"),
        source=_source_of(row),
    )


def _source_of(row: "TableRow") -> str:
    named = row.optional_text("sourceID")
    return f"{row.ref.words()}, source {named}" if named else row.ref.words()


def model_measurement(row: "TableRow") -> ModelMeasurement:
    """Return a row of model_measurements."""
    return ModelMeasurement(
        ref=row.ref,
        model_id=row.text("modelID"),
        measure=row.text("modelMeasure"),
        state=row.text("bodyState"),
        layer=row.text("modelLayer"),
        scale_denominator=row.number("scaleDenominator"),
        value_mm=row.number("measurementValue"),
    )
