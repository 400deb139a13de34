"""Turn checked cells of the body's tables into frozen rows."""

import math

from bonewright.study.model import (
    BodyHoop,
    BodyReading,
    BodyScan,
    BodySegment,
    LostPart,
    Surface,
    Tissue,
)
from bonewright.study.table_rows import TableRow

__all__ = ["body_hoop", "body_reading", "body_scan", "body_segment", "lost_part", "tissue"]

_KG_M3_PER_KG_L = 1000.0
# Water at 20 degrees Celsius; tap water between 10 and 25 differs by less than 0.2 %.
_WATER_KG_M3 = 998.2


def body_reading(row: TableRow) -> BodyReading:
    """Return a row of bodies."""
    return BodyReading(
        ref=row.ref,
        body_id=row.text("bodyID"),
        state=row.text("bodyState"),
        scale_denominator=row.number("scaleDenominator"),
        volume_m3=_volume_m3(row),
        armature_volume_m3=row.optional_number("armatureVolume") or 0.0,
        source_id=row.optional_text("sourceID"),
    )


def _volume_m3(row: TableRow) -> float:
    """Return a model's volume: as displaced, by weighing in water, or by its material."""
    displaced = row.optional_number("measurementValue")
    if displaced is not None:
        return displaced
    dry_kg, wet_kg = row.number("weightInAir"), row.optional_number("weightInWater")
    if wet_kg is not None:
        # Archimedes: the weight lost is that of the water displaced.
        return (dry_kg - wet_kg) / _WATER_KG_M3
    armature_kg = row.optional_number("armatureWeight") or 0.0
    return (dry_kg - armature_kg) / (row.number("materialDensity") * _KG_M3_PER_KG_L)


def body_segment(row: TableRow) -> BodySegment:
    """Return a row of body_segments."""
    return BodySegment(
        ref=row.ref,
        segment=row.text("segmentID"),
        parent=row.optional_text("parentSegment"),
        sides=row.text("sides"),
        element=row.text("element"),
        code=row.text("measurementType"),
        length_ratio=row.number("lengthRatio"),
        attach_along=row.number("attachAlong") / 100,
        attach_up=(row.optional_number("attachUp") or 0.0) / 100,
        attach_out=(row.optional_number("attachOut") or 0.0) / 100,
        angle_rad=math.radians(row.number("jointAngle")),
        angle_low_rad=math.radians(row.number("jointLowest")),
        angle_high_rad=math.radians(row.number("jointHighest")),
        splay_rad=math.radians(row.optional_number("splay") or 0.0),
        bend_rad=math.radians(row.optional_number("bend") or 0.0),
        balance=row.optional_number("balance") or 0.0,
        on_ground=row.yes("onGround"),
        bone_percent=row.number("bonePercent"),
        air_percent=row.optional_number("airPercent") or 0.0,
        fat_share=row.optional_number("fatShare") or 0.0,
        plumage_percent=row.optional_number("plumagePercent") or 0.0,
    )


def body_hoop(row: TableRow) -> BodyHoop:
    """Return a row of body_hoops."""
    return BodyHoop(
        ref=row.ref,
        segment=row.text("segmentID"),
        station=row.number("station") / 100,
        element=row.optional_text("element"),
        code=row.optional_text("measurementType"),
        half_width_ratio=row.number("halfWidthRatio"),
        dorsal_ratio=row.number("dorsalRatio"),
        ventral_ratio=row.number("ventralRatio"),
        tissue_mm=row.optional_number("tissueThickness") or 0.0,
        dorsal_exponent=row.optional_number("dorsalExponent") or 2.0,
        ventral_exponent=row.optional_number("ventralExponent") or 2.0,
    )


def tissue(row: TableRow) -> Tissue:
    """Return a row of tissues."""
    return Tissue(
        ref=row.ref,
        tissue=row.text("tissue"),
        density_kg_m3=row.number("density") * _KG_M3_PER_KG_L,
        low_kg_m3=row.number("densityLow") * _KG_M3_PER_KG_L,
        high_kg_m3=row.number("densityHigh") * _KG_M3_PER_KG_L,
    )


def lost_part(row: TableRow) -> LostPart:
    """Return a row of lost_parts."""
    return LostPart(
        ref=row.ref,
        part=row.text("part"),
        species=row.text("scientificName"),
        element=row.optional_text("element"),
        code=row.optional_text("measurementType"),
        ratio=row.number("ratio"),
    )


def body_scan(row: TableRow, surface: Surface) -> BodyScan:
    """Return a row of body_scans with its surface, at life size in mm."""
    scale = row.number("scaleDenominator")
    return BodyScan(
        ref=row.ref,
        scan_id=row.text("scanID"),
        kind=row.text("scanOf"),
        body_id=row.text("bodyID"),
        state=row.text("bodyState"),
        element=row.text("element"),
        code=row.text("measurementType"),
        checked_mm=row.number("checkLength") * scale,
        to_life_size_mm=row.factor("lengthUnit") * scale,
        surface=surface,
    )
