"""Materials of the figure: what each part takes, with what is wasted.

Clay, foam and resin follow from the filling; a mould's silicone and plaster from the skin;
feathers from the skin of each tract; eyes, sheath and claws from the lost parts; paint from
what stays bare.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from bonewright.body.lost_parts import LostPartsResult
from bonewright.quantity import Draws
from bonewright.workshop.amounts import Amount
from bonewright.workshop.build_rules import BuildRules
from bonewright.workshop.figure_to_build import FigureToBuild
from bonewright.workshop.filling import Filling, mass_of_volume, outer_layer_mm3

__all__ = ["CastPart", "Feathers", "Materials", "Mould", "materials_of"]

_MM2_PER_CM2 = 100.0
_MM2_PER_M2 = 1e6
_COMMON: Final = "common practice"
# A claw is cast as a cone; its root is as thick as its toe at the last joint.
_CLAW_STATION: Final = 0.85
_CLAW_BESIDE_TOE: Final = 0.25
_CONE: Final = 1 / 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Feathers:
    """Feathers of one segment, both sides together: how many to set, and how long.

    ``living_count`` is the animal's own. At a small scale feathers that would be shorter than
    the shortest that is set are replaced by fewer of that length, which cover as much.
    """

    tract: str
    segment: str
    skin_cm2: float
    count: Amount
    to_order: int
    length_mm: Amount
    living_count: Amount


@dataclass(frozen=True, slots=True, kw_only=True)
class Mould:
    """What a mould of one segment takes, in one piece: silicone, and plaster around it."""

    label: str
    silicone_kg: Amount
    plaster_kg: Amount


@dataclass(frozen=True, slots=True, kw_only=True)
class CastPart:
    """A part cast by itself: how many, how large, and the resin for all of them.

    ``resin_kg`` is None where the part is bought, such as a glass eye; ``size_mm`` is None,
    and ``missing`` says what would give it, where the study has no number.
    """

    part: str
    count: int
    size_mm: Amount | None
    resin_kg: Amount | None
    missing: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Materials:
    """All materials of a figure but its armature and base; masses before waste."""

    filling: Filling
    feathers: tuple[Feathers, ...]
    moulds: tuple[Mould, ...]
    parts: tuple[CastPart, ...]
    skin_m2: Amount
    bare_m2: Amount
    paint_l: Amount


def materials_of(
    figure: FigureToBuild,
    body: FigureToBuild,
    filling: Filling,
    *,
    rules: BuildRules,
    lost: LostPartsResult | None,
) -> Materials:
    """Count and weigh what a figure takes.

    Parameters
    ----------
    body : FigureToBuild
        What is modelled: the figure itself, or the naked body beneath real feathers.
    lost : LostPartsResult or None
        Sizes of the parts that do not fossilise, of the body step.
    """
    feathers = _feathers(figure, body, rules) if figure.layer == "feathered" else ()
    clad = {feather.segment for feather in feathers}
    skin = body.skin_mm2 / _MM2_PER_M2
    bare = sum(s.skin_mm2 for s in body.segments if s.segment not in clad) / _MM2_PER_M2
    return Materials(
        filling=filling,
        feathers=feathers,
        moulds=_moulds(body, rules),
        parts=_parts(body, rules, lost),
        skin_m2=_area(skin, "surface of the joined solid"),
        bare_m2=_area(bare, "surface of the segments without feathers"),
        paint_l=_area(bare, "bare surface x coats / cover of a litre").times(
            rules.limit("coats of paint (count)") / rules.limit("paint cover (m2 per L)"), unit="L"
        ),
    )


def _area(value: float, how: str) -> Amount:
    # Texture and seams add to the smooth surface (common practice).
    return Amount(
        value=value, low=0.95 * value, high=1.15 * value, unit="m2", how=how, source=_COMMON
    )


def _feathers(
    figure: FigureToBuild, body: FigureToBuild, rules: BuildRules
) -> tuple[Feathers, ...]:
    found = []
    shortest = rules.limit("shortest feather (mm)")
    spare = rules.limit("spare feathers (%)") / 100
    depth = {s.segment: s.plumage_mm for s in figure.segments if s.plumage_mm > 0}
    by_segment: dict[str, list[float]] = {}
    for segment in body.segments:
        if segment.segment in depth and segment.skin_mm2 > 0:
            by_segment.setdefault(segment.segment, []).append(segment.skin_mm2)
    for name, skins in by_segment.items():
        tract = rules.tracts.get(name)
        if tract is None:
            continue
        living_cm2 = sum(skins) * figure.scale_denominator**2 / _MM2_PER_CM2
        living = Amount(
            value=living_cm2 * tract.per_cm2,
            low=living_cm2 * tract.low_per_cm2,
            high=living_cm2 * tract.high_per_cm2,
            unit="feathers",
            how="skin x feathers per cm2 of the tract",
            source=tract.source,
        )
        scaled = depth[name] * tract.length_over_depth
        length = max(scaled, shortest)
        fewer = (scaled / length) ** 2
        count = living.times(fewer, how=living.how + _fewer_words(fewer))
        found.append(
            Feathers(
                tract=tract.tract,
                segment=name,
                skin_cm2=sum(skins) / _MM2_PER_CM2,
                count=count,
                to_order=int(np.ceil(count.value * (1 + spare))),
                length_mm=Amount(
                    value=length,
                    low=0.7 * length,
                    high=1.4 * length,
                    unit="mm",
                    how="depth of the plumage x feather length over depth"
                    if fewer == 1
                    else "the shortest feather that is set",
                    source=tract.source,
                ),
                living_count=living,
            )
        )
    return tuple(found)


def _fewer_words(fewer: float) -> str:
    return "" if fewer == 1 else ", fewer because longer than true to scale, covering as much"


def _moulds(figure: FigureToBuild, rules: BuildRules) -> tuple[Mould, ...]:
    silicone_mm = rules.limit("silicone (mm)")
    jacket_mm = rules.limit("mould jacket (mm)")
    moulds = []
    for segment in figure.segments:
        if segment.own is None or segment.skin_mm2 <= 0:
            continue
        inner = outer_layer_mm3(segment.volume_mm3, segment.skin_mm2, silicone_mm)
        both = outer_layer_mm3(segment.volume_mm3, segment.skin_mm2, silicone_mm + jacket_mm)
        moulds.append(
            Mould(
                label=segment.label,
                silicone_kg=mass_of_volume(inner, rules.material("silicone"), spread=0.2),
                plaster_kg=mass_of_volume(both - inner, rules.material("plaster"), spread=0.2),
            )
        )
    return tuple(moulds)


def _parts(
    figure: FigureToBuild, rules: BuildRules, lost: LostPartsResult | None
) -> tuple[CastPart, ...]:
    sizes = {} if lost is None else lost.sizes
    return (
        CastPart(
            part="glass eye",
            count=2,
            size_mm=_lost_size(sizes, "eye diameter", figure),
            resin_kg=None,
            missing="the eye's diameter in living relatives: rows 'eye diameter' in"
            " tables/lost_parts.csv",
        ),
        *_sheath(figure, rules, sizes),
        *_claws(figure, rules, sizes),
    )


def _lost_size(
    sizes: Mapping[tuple[str, str | None, str | None], Draws], part: str, figure: FigureToBuild
) -> Amount | None:
    draws = next((found for (name, _, _), found in sizes.items() if name == part), None)
    if draws is None:
        return None
    low, middle, high = np.quantile(draws, [0.025, 0.5, 0.975]) / figure.scale_denominator
    return Amount(
        value=float(middle),
        low=float(low),
        high=float(high),
        unit="mm",
        how="its proportion in living relatives x the bone, at scale",
        source="tables/lost_parts.csv",
    )


def _sheath(
    figure: FigureToBuild,
    rules: BuildRules,
    sizes: Mapping[tuple[str, str | None, str | None], Draws],
) -> list[CastPart]:
    """Return the beak's sheath, cast as the whole beak that it encloses."""
    beak = next((s for s in figure.segments if s.segment == "beak" and s.own is not None), None)
    if beak is None:
        return []
    resin = mass_of_volume(beak.volume_mm3, rules.material("resin"), spread=0.15)
    return [
        CastPart(
            part="beak with its sheath",
            count=1,
            size_mm=_lost_size(sizes, "beak sheath length", figure),
            resin_kg=resin,
            missing="the sheath's length in living relatives: rows 'beak sheath length' in"
            " tables/lost_parts.csv",
        )
    ]


def _claws(
    figure: FigureToBuild,
    rules: BuildRules,
    sizes: Mapping[tuple[str, str | None, str | None], Draws],
) -> list[CastPart]:
    toes = [s for s in figure.segments if "toe" in s.segment]
    if not toes or figure.layer == "skeleton":
        return []
    known = _lost_size(sizes, "claw length", figure)
    longest = max(toe.length_mm for toe in toes)
    volume = 0.0
    for toe in toes:
        length = (
            known.value * toe.length_mm / longest if known else _CLAW_BESIDE_TOE * toe.length_mm
        )
        half = float(np.interp(_CLAW_STATION, toe.loft.station, toe.loft.half_width_mm[0]))
        volume += _CONE * np.pi * half**2 * length
    spread = 0.3 if known is None else 0.2
    return [
        CastPart(
            part="claws",
            count=len(toes),
            size_mm=known,
            resin_kg=mass_of_volume(volume, rules.material("resin"), spread=spread),
            missing="the claw's length in living relatives: rows 'claw length' in"
            " tables/lost_parts.csv; until then a quarter of each toe (common practice)",
        )
    ]
