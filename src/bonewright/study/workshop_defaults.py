"""Stock, materials, feathers and limits that come with the program, as rows to be replaced.

Sizes are those that metal is commonly drawn and rolled in. Strengths are the least that the
named standards ask for, recalled; a supplier's certificate is worth more. What no standard
says is common practice, and says so.
"""

from collections.abc import Sequence
from typing import Final

from bonewright.study.workshop_rows import BuildLimit, BuildMaterial, FeatherTract, StockItem

__all__ = ["BUILD_LIMITS", "BUILD_MATERIALS", "FEATHER_TRACTS", "STOCK"]

_COMMON = "common practice"
_WIRE = "soft iron wire: density and modulus of steel, yield of annealed wire (common practice)"
_STEEL = "EN 1993-1-1, 3.2.6 and table 3.1: S235 (from memory)"
_TUBE = "EN 10305-3 welded precision tube E235, as welded, taken as S235 (from memory)"
_ALUMINIUM = "EN 1999-1-1, 3.2.5; yield of soft aluminium wire (common practice)"


def _stock(
    form: str,
    material: str,
    sizes: Sequence[tuple[float, float | None]],
    *,
    length: float,
    density: float,
    modulus_gpa: float,
    strength: float,
    source: str,
) -> tuple[StockItem, ...]:
    return tuple(
        StockItem(
            ref=None,
            stock_id=f"{material} {form} {diameter:g}" + (f" x {wall:g}" if wall else ""),
            form=form,
            material=material,
            diameter_mm=diameter,
            wall_mm=wall,
            length_mm=length,
            density_kg_m3=1000 * density,
            elastic_modulus_mpa=1000 * modulus_gpa,
            yield_strength_mpa=strength,
            source=source,
        )
        for diameter, wall in sizes
    )


STOCK: Final[tuple[StockItem, ...]] = (
    *_stock(
        "wire",
        "aluminium",
        [(1.0, None), (1.5, None), (2.0, None), (3.0, None)],
        length=5000,
        density=2.70,
        modulus_gpa=70,
        strength=28,
        source=_ALUMINIUM,
    ),
    *_stock(
        "wire",
        "soft iron",
        [(0.8, None), (1.0, None), (1.25, None), (1.6, None), (2.0, None), (2.5, None)],
        length=10000,
        density=7.85,
        modulus_gpa=210,
        strength=200,
        source=_WIRE,
    ),
    *_stock(
        "bar",
        "mild steel",
        [(d, None) for d in (3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 16.0, 20.0, 25.0)],
        length=3000,
        density=7.85,
        modulus_gpa=210,
        strength=235,
        source=_STEEL,
    ),
    *_stock(
        "tube",
        "steel",
        [
            (10.0, 1.0),
            (12.0, 1.5),
            (16.0, 1.5),
            (20.0, 2.0),
            (25.0, 2.0),
            (30.0, 2.5),
            (38.0, 3.0),
            (50.0, 3.0),
            (60.0, 4.0),
        ],
        length=6000,
        density=7.85,
        modulus_gpa=210,
        strength=235,
        source=_TUBE,
    ),
)


def _material(
    material: str,
    use: str,
    density: tuple[float, float, float],
    waste: float,
    *,
    pack: float,
    source: str = _COMMON,
) -> BuildMaterial:
    best, low, high = (1000 * value for value in density)
    return BuildMaterial(
        ref=None,
        material=material,
        use=use,
        density_kg_m3=best,
        low_kg_m3=low,
        high_kg_m3=high,
        waste_percent=waste,
        pack=pack,
        source=source,
    )


BUILD_MATERIALS: Final[tuple[BuildMaterial, ...]] = (
    _material(
        "oil-based modelling clay",
        "clay",
        (1.75, 1.55, 1.95),
        5,
        pack=1,
        source="about 1.7 to 1.9, by brand (from memory): weigh a sample",
    ),
    _material("rigid foam block", "foam", (0.035, 0.028, 0.045), 40, pack=0.5),
    _material("casting resin, unfilled", "resin", (1.10, 1.03, 1.18), 15, pack=1),
    _material("casting plaster, set and dry", "plaster", (1.15, 0.95, 1.35), 20, pack=5),
    _material("silicone rubber for moulds", "silicone", (1.18, 1.08, 1.30), 15, pack=1),
    _material("acrylic paint", "paint", (1.25, 1.10, 1.45), 20, pack=0.1),
    _material("plywood", "base", (0.65, 0.50, 0.75), 10, pack=10),
)


def _tract(
    segment: str,
    tract: str,
    per_cm2: tuple[float, float, float],
    length_over_depth: float,
) -> FeatherTract:
    return FeatherTract(
        ref=None,
        segment=segment,
        tract=tract,
        per_cm2=per_cm2[0],
        low_per_cm2=per_cm2[1],
        high_per_cm2=per_cm2[2],
        length_over_depth=length_over_depth,
        source=_COMMON,
    )


# A hen's 8325 feathers on the skin of a bird of 2.7 kg are about 4 to a cm2, over all; larger
# birds bear fewer to a cm2. The neck and head are the densest.
FEATHER_TRACTS: Final[tuple[FeatherTract, ...]] = (
    _tract("trunk", "back, breast and belly", (2.0, 1.0, 4.0), 2.2),
    _tract("neck base", "lower neck", (4.0, 2.0, 8.0), 2.2),
    _tract("neck middle", "neck", (5.0, 2.5, 10.0), 2.2),
    _tract("neck top", "upper neck", (6.0, 3.0, 12.0), 2.2),
    _tract("head", "head", (12.0, 6.0, 24.0), 2.5),
    _tract("thigh", "thigh", (2.5, 1.2, 5.0), 2.5),
    _tract("shank", "lower leg", (3.0, 1.5, 6.0), 3.0),
    _tract("upper wing", "upper wing", (2.5, 1.2, 5.0), 4.0),
    _tract("forearm", "forearm", (2.5, 1.2, 5.0), 6.0),
    _tract("hand", "hand", (2.5, 1.2, 5.0), 8.0),
    _tract("tail", "tail", (1.5, 0.7, 3.0), 5.0),
)


def _limit(limit: str, value: float, meaning: str, source: str = _COMMON) -> BuildLimit:
    return BuildLimit(ref=None, limit=limit, value=value, meaning=meaning, source=source)


BUILD_LIMITS: Final[tuple[BuildLimit, ...]] = (
    _limit(
        "safety factor on yield (times)",
        2.0,
        "The armature's stress stays that many times below yield.",
    ),
    _limit(
        "handling factor (times)",
        1.5,
        "The weight is taken that many times, for knocks and pressing clay on.",
    ),
    _limit(
        "tip deflection (1 in)",
        200.0,
        "No tip sinks by more than this part of its reach under the figure's weight.",
    ),
    _limit(
        "safety factor on buckling (times)",
        3.0,
        "A leg carries that many times its share before it buckles.",
    ),
    _limit(
        "joint overlap (diameters)",
        6.0,
        "Bars lie side by side that far where they join, brazed or bound.",
    ),
    _limit("least joint overlap (mm)", 8.0, "And by this at least."),
    _limit("fixing below the base (mm)", 25.0, "A leg's bar goes that far through the base."),
    _limit("bend radius (diameters)", 2.0, "Inner radius of a bend of wire or bar."),
    _limit(
        "bend radius of tube (diameters)",
        4.0,
        "Inner radius of a bend of tube, which kinks when bent more sharply.",
    ),
    _limit("saw cut (mm)", 2.0, "Lost at every cut."),
    _limit("cover (%)", 25.0, "Part of the flesh's half-thickness left around a bar at least."),
    _limit("knock at a tip (N)", 5.0, "A tip takes this from any side without staying bent."),
    _limit("clay skin (mm)", 15.0, "Clay over a core of foam."),
    _limit("shell (mm)", 4.0, "Wall of a cast figure."),
    _limit("silicone (mm)", 8.0, "Thickness of a mould's silicone."),
    _limit("mould jacket (mm)", 15.0, "Thickness of the plaster over it."),
    _limit("shortest feather (mm)", 12.0, "No feather shorter than this is set."),
    _limit("spare feathers (%)", 15.0, "Ordered beyond the count."),
    _limit("coats of paint (count)", 2.0, "Coats on what is bare."),
    _limit("paint cover (m2 per L)", 8.0, "What a litre covers, one coat."),
    _limit(
        "tilt (degrees)",
        10.0,
        "The figure on its base stands when tilted that far.",
        "check of equipment after IEC 62368-1 (from memory); no museum standard found",
    ),
    _limit("push (N)", 100.0, "A visitor's push that may not tip it without anchors."),
    _limit(
        "least push over weight (%)",
        20.0,
        "A light model need not stand a push of more than this part of its weight.",
    ),
    _limit("push height (mm)", 1200.0, "Where it is pushed, or at the top where that is lower."),
    _limit("base thickness (mm)", 18.0, "Thickness of the base board."),
    _limit("widest base margin (mm)", 600.0, "The base reaches no farther beyond the feet."),
    _limit(
        "floor load (kN/m2)",
        5.0,
        "What the gallery's floor carries.",
        "EN 1991-1-1, table 6.2, category C3 to C5 (from memory): the building's own figure counts",
    ),
    _limit("crate clearance (mm)", 50.0, "Padding on every side."),
    _limit("crate wall (mm)", 12.0, "Thickness of the crate's boards."),
    _limit(
        "one person's lift (kg)",
        25.0,
        "More than this takes two or a hoist.",
        "guidance for lifting close to the body (from memory): local rules count",
    ),
    _limit("workmanship (%)", 1.0, "How exactly a measure is met on the bench."),
    _limit("least workmanship (mm)", 1.0, "And by this at least."),
)
