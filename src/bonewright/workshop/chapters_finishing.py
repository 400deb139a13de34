"""Chapters of the booklet about what comes after: order list, filling, surface, base, check."""

from collections.abc import Sequence
from typing import Final, TypeVar

from bonewright.workshop.amounts import Amount
from bonewright.workshop.booklet_blocks import (
    Block,
    Caution,
    Chapter,
    Column,
    Table,
    Text,
    WriteIn,
)
from bonewright.workshop.cautions import cautions_at
from bonewright.workshop.check_card import CheckLine
from bonewright.workshop.filling import Filling
from bonewright.workshop.materials import Materials
from bonewright.workshop.order_list import OrderLine
from bonewright.workshop.standing import Standing
from bonewright.workshop.telling import plain_number, told

__all__ = [
    "base_chapter",
    "caution_at",
    "check_chapter",
    "filling_chapter",
    "moving_chapter",
    "order_chapter",
    "surface_chapter",
]

_Kind = TypeVar("_Kind")

_FILL_WORDS: Final = {
    "clay": "solid clay on the armature",
    "clay on foam": "a skin of clay over a core of foam",
    "cast shell": "a hollow shell cast in resin",
}
_USE_WORDS: Final = {"clay": "Clay", "foam": "Foam", "resin": "Resin"}


def caution_at(stage: str) -> tuple[Caution, ...]:
    """Return the cautions of one stage as a box; none where there are none."""
    found = cautions_at(stage)
    if not found:
        return ()
    return (
        Caution(
            title="Take care",
            items=tuple(
                (caution.title, f"{caution.text} Decides: {caution.defers_to}.")
                for caution in found
            ),
        ),
    )


def order_chapter(lines: Sequence[OrderLine]) -> Chapter:
    """List what to buy."""
    return Chapter(
        title="Order what you need",
        blocks=(
            Text(
                text="The same list stands in tables/order-list.xlsx and .csv, with how every"
                " number was got and its source. Stock, materials, feathers and limits are tables"
                " of the study: write your own rows there and make the pack again."
            ),
            Table(
                caption="Order list",
                columns=(
                    Column(head="Item", share=2.2),
                    Column(head="For", share=1.9),
                    Column(head="Needed (95 % range)", share=2.1, align="right"),
                    Column(head="Waste, %", share=0.7, align="right"),
                    Column(head="Order", share=1.0, align="right"),
                    Column(head="Packs", share=1.1, align="right"),
                ),
                rows=tuple(_order_row(line) for line in lines),
                notes=("Needed: without waste. Order: with it.",),
            ),
        ),
    )


def _order_row(line: OrderLine) -> tuple[str, ...]:
    unit = line.needed.unit
    ordered = Amount(value=line.order, low=line.order, high=line.order, unit=unit, how="")
    packs = f"{line.packs}"
    if line.pack:
        pack = Amount(value=line.pack, low=line.pack, high=line.pack, unit=unit, how="")
        packs = f"{line.packs} × {told(pack)}"
    return (
        line.item,
        line.purpose,
        told(line.needed),
        f"{line.waste_percent:.0f}",
        told(ordered),
        packs,
    )


def filling_chapter(filling: Filling, materials: Materials) -> Chapter:
    """Give volume and mass of each segment, and of its mould."""
    uses = list(dict.fromkeys(use for segment in filling.segments for use in segment.mass_kg))
    columns = [Column(head="Segment", share=1.6)]
    for use in uses:
        columns += [
            Column(head=f"{_USE_WORDS.get(use, use)}, cm³", share=1.0, align="right"),
            Column(head=f"{_USE_WORDS.get(use, use)}, mass (95 %)", share=1.7, align="right"),
        ]
    rows = []
    for label, segment in _pairs_once([(segment.label, segment) for segment in filling.segments]):
        row = [label]
        for use in uses:
            volume, amount = segment.volume_mm3.get(use), segment.mass_kg.get(use)
            row += [
                "–" if volume is None else plain_number(volume / 1000),
                "–" if amount is None else told(amount),
            ]
        rows.append(tuple(row))
    blocks: list[Block] = [
        *caution_at("modelling"),
        Text(
            text=f"This figure is figured as {_FILL_WORDS[filling.fill]}: {told(filling.mass_kg)}"
            " without armature. Volumes are of the form without feathers; where two segments"
            " overlap, what they share belongs to the first."
        ),
        Table(
            caption="What each segment takes",
            columns=tuple(columns),
            rows=tuple(rows),
            notes=("Without waste; the order list holds it.",),
        ),
        *caution_at("casting"),
    ]
    if materials.moulds:
        blocks.append(
            Table(
                caption="If it is moulded: what a mould of each segment takes",
                columns=(
                    Column(head="Segment", share=1.4),
                    Column(head="Silicone (95 %)", align="right", share=1.6),
                    Column(head="Plaster jacket (95 %)", align="right", share=1.6),
                ),
                rows=tuple(
                    (label, told(mould.silicone_kg), told(mould.plaster_kg))
                    for label, mould in _pairs_once([(m.label, m) for m in materials.moulds])
                ),
            )
        )
    return Chapter(title="Model the form", blocks=tuple(blocks))


def _pairs_once(labelled: Sequence[tuple[str, _Kind]]) -> list[tuple[str, _Kind]]:
    """Keep one of each pair, named as 'thigh, each'."""
    kept = []
    for label, item in labelled:
        if label.startswith("right "):
            continue
        kept.append(
            (f"{label.removeprefix('left ')}, each", item)
            if label.startswith("left ")
            else (label, item)
        )
    return kept


def surface_chapter(materials: Materials) -> Chapter:
    """Tell of feathers, cast parts, eyes and paint."""
    blocks: list[Block] = []
    if materials.feathers:
        blocks += [
            *caution_at("feathers"),
            Table(
                caption="Feathers, from the tail forwards and from below upwards",
                columns=(
                    Column(head="Tract", share=1.5),
                    Column(head="Segment", share=1.2),
                    Column(head="Skin, cm²", share=0.8, align="right"),
                    Column(head="To set (95 %)", share=1.7, align="right"),
                    Column(head="To order", share=0.8, align="right"),
                    Column(head="Length, mm (95 %)", share=1.5, align="right"),
                ),
                rows=tuple(
                    (
                        feathers.tract,
                        feathers.segment,
                        plain_number(feathers.skin_cm2),
                        told(feathers.count),
                        str(feathers.to_order),
                        told(feathers.length_mm).replace(" mm", ""),
                    )
                    for feathers in materials.feathers
                ),
                notes=("Both sides together. The order holds spares.",),
            ),
        ]
    blocks += [
        *caution_at("finish"),
        Text(
            lead="Paint.",
            text=f"Bare surface {told(materials.bare_m2)}, of {told(materials.skin_m2)} in all;"
            f" paint {told(materials.paint_l)}.",
        ),
    ]
    if materials.parts:
        blocks.append(
            Table(
                caption="Parts made by themselves",
                columns=(
                    Column(head="Part", share=1.4),
                    Column(head="How many", share=0.7, align="right"),
                    Column(head="Size (95 %)", share=1.8, align="right"),
                    Column(head="Resin for all (95 %)", share=1.8, align="right"),
                ),
                rows=tuple(
                    (
                        part.part,
                        str(part.count),
                        part.missing if part.size_mm is None else told(part.size_mm),
                        "bought" if part.resin_kg is None else told(part.resin_kg),
                    )
                    for part in materials.parts
                ),
            )
        )
    title = "Feathers, eyes and paint" if materials.feathers else "Eyes and paint"
    return Chapter(title=title, blocks=tuple(blocks))


def base_chapter(standing: Standing) -> Chapter:
    """Tell how the figure is made to stand."""
    base, anchors = standing.base, standing.anchoring
    length, width = base.size_mm
    least = int(standing.tilt_deg.argmin())
    rows = [
        ("Mass of figure, armature and base", told(standing.mass_kg)),
        (
            "Base board",
            f"{length:.0f} × {width:.0f} × {base.thickness_mm:.0f} mm,"
            f" {told(base.mass_kg)}, {base.margin_mm:.0f} mm beyond the feet",
        ),
        ("Tips when tilted by", told(standing.least_tilt)),
        ("  weakest direction", _direction(float(standing.direction_deg[least]))),
        (
            "Tips when pushed with",
            f"{told(standing.least_push)} at {standing.push_height_mm:.0f} mm above the floor",
        ),
        (
            "On its feet alone, tips at",
            f"{float(standing.feet_tilt_deg.min()):.0f}° towards its weakest side",
        ),
        (
            "Anchors",
            f"four, each for a pull of {told(anchors.pull_n)} and a shear of"
            f" {told(anchors.shear_n)}"
            if anchors.needed
            else "not needed for the push of the study's limits",
        ),
        ("Load on the floor under the base", told(standing.floor_kn_m2)),
    ]
    return Chapter(
        title="Set it on its base",
        blocks=(
            *caution_at("base"),
            Table(
                caption="How it stands",
                columns=(Column(head="What", share=1.3), Column(head="How much", share=2.4)),
                rows=tuple(rows),
                notes=tuple(caveat.text for caveat in standing.caveats),
            ),
            Table(
                caption="Tilt and push at which figure and base tip, all round",
                columns=(
                    Column(head="Towards", share=1.6),
                    Column(head="Tilt, degrees", align="right"),
                    Column(head="Push, N", align="right"),
                ),
                rows=tuple(
                    (
                        _direction(float(angle)),
                        f"{standing.tilt_deg[at]:.0f}",
                        plain_number(float(standing.push_n[at])),
                    )
                    for at, angle in enumerate(standing.direction_deg)
                    if round(float(angle)) % 30 == 0
                ),
                notes=(
                    f"Level push at {standing.push_height_mm:.0f} mm above the floor, the base not"
                    " sliding; middle values, equilibrium of a rigid body.",
                ),
            ),
        ),
    )


def _direction(angle_deg: float) -> str:
    angle = round(angle_deg) % 360
    named = {0: "the front", 90: "its left", 180: "the back", 270: "its right"}
    if angle in named:
        return named[angle]
    if angle < 180:
        return f"{angle}° from the front, to its left"
    return f"{360 - angle}° from the front, to its right"


def check_chapter(lines: Sequence[CheckLine], scale_denominator: float) -> Chapter:
    """Give the measures to take on the finished figure, with room to write."""
    size = "life size" if scale_denominator == 1 else f"1:{scale_denominator:g}"
    return Chapter(
        title="Check the finished figure",
        blocks=(
            Text(
                text="Take these measures and write them down. Those between joints are taken on"
                " the armature, before anything covers it. Then write them into"
                " tables/check-card.csv and give it to the command bonewright check-model, or enter"
                " them in the study's table model_measurements: it says which of them left what"
                " the bones allow."
            ),
            WriteIn(
                caption=f"Check card, {size}, in mm",
                columns=(
                    Column(head="No.", share=0.5),
                    Column(head="Measure", share=2.6),
                    Column(head="Taken on", share=1.2),
                    Column(head="Expected", share=0.9, align="right"),
                    Column(head="Within ±", share=0.8, align="right"),
                    Column(head="Bones allow (95 %)", share=1.5, align="right"),
                    Column(head="Measured", share=1.2),
                ),
                rows=tuple(
                    (
                        str(line.number),
                        line.measure,
                        line.when,
                        plain_number(line.expected_mm),
                        plain_number(line.tolerance_mm),
                        " to ".join(
                            plain_number(end, like=line.expected_mm) for end in line.bones95_mm
                        ),
                        "",
                    )
                    for line in lines
                ),
            ),
        ),
    )


def moving_chapter(standing: Standing) -> Chapter:
    """Tell how it is packed and carried."""
    crate = standing.crate
    length, width, height = crate.inside_mm
    people = "one person" if crate.people == 1 else f"{crate.people} people"
    return Chapter(
        title="Pack and move it",
        blocks=(
            *caution_at("moving"),
            Table(
                caption="Crate",
                columns=(Column(head="What", share=1.3), Column(head="How much", share=2.4)),
                rows=(
                    (
                        "Inside, length × width × height",
                        f"{length:.0f} × {width:.0f} × {height:.0f} mm",
                    ),
                    ("Mass of the crate", told(crate.crate_kg)),
                    ("To lift, figure and base in it", told(crate.lift_kg)),
                    ("Carried by", f"at least {people}"),
                ),
            ),
        ),
    )
