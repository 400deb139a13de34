"""Everything that is reckoned for one figure, in the order it is built."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from bonewright.body.measures import figure_measures
from bonewright.findings import Caveat
from bonewright.workshop.armature import Armature, armature_of
from bonewright.workshop.build_rules import BuildRules, build_rules
from bonewright.workshop.check_card import CheckLine, check_card
from bonewright.workshop.cut_list import CutPlan, cut_plan
from bonewright.workshop.figure_to_build import FigureToBuild
from bonewright.workshop.filling import Filling, filling_of, fitting_fill
from bonewright.workshop.materials import Materials, materials_of
from bonewright.workshop.order_list import OrderLine, order_lines
from bonewright.workshop.shaping import figure_to_build
from bonewright.workshop.standing import Standing, standing_of

if TYPE_CHECKING:
    from bonewright.pipeline import Run

__all__ = ["BuildPlan", "build_plan"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BuildPlan:
    """The numbers of one figure. ``cuts`` is keyed by stock; ``caveats`` collects all.

    ``body`` is what is modelled: the figure itself, or the naked body beneath real feathers.
    """

    figure: FigureToBuild
    body: FigureToBuild
    rules: BuildRules
    filling: Filling
    armature: Armature
    cuts: Mapping[str, CutPlan]
    materials: Materials
    standing: Standing
    order: tuple[OrderLine, ...]
    card: tuple[CheckLine, ...]
    caveats: tuple[Caveat, ...]


def build_plan(run: "Run", figure: FigureToBuild, *, fill: str | None = None) -> BuildPlan:
    """Reckon armature, cut list, materials, base, order list and check card of a figure.

    Parameters
    ----------
    figure : FigureToBuild
        Of the same run.
    fill : str, optional
        One of :data:`~bonewright.workshop.filling.FILLS`; without it the one that suits the
        figure's size.

    Raises
    ------
    NotEnoughEvidence
        If the run has no grown body.
    OutsideRange
        If there is no such filling, a piece is longer than all stock, or the figure falls.
    """
    rules = build_rules(run.study)
    result = run.body
    grown = None if result is None else result.grown
    body = figure
    if figure.layer == "feathered":
        body = figure_to_build(
            run,
            scale_denominator=figure.scale_denominator,
            state=figure.state,
            layer="naked",
        )
    filling = filling_of(body, fill or fitting_fill(body), rules)
    armature = armature_of(body, filling, rules)
    cuts = _cuts(armature, rules)
    lost = None if result is None else result.parts
    materials = materials_of(figure, body, filling, rules=rules, lost=lost)
    standing = standing_of(figure, armature, rules)
    living = {segment.segment: segment.loft for segment in figure.at_scale(1).segments}
    measures = (
        () if grown is None else figure_measures(grown, living, surface=figure.layer != "skeleton")
    )
    return BuildPlan(
        figure=figure,
        body=body,
        rules=rules,
        filling=filling,
        armature=armature,
        cuts=cuts,
        materials=materials,
        standing=standing,
        order=order_lines(
            materials=materials,
            armature=armature,
            cuts=cuts,
            base=standing.base,
            rules=rules,
            cast=filling.fill == "cast shell",
        ),
        card=check_card(figure, measures, rules),
        caveats=(*armature.caveats, *standing.caveats),
    )


def _cuts(armature: Armature, rules: BuildRules) -> dict[str, CutPlan]:
    """Cut the pieces of each kind of stock, from every length it is sold in."""
    pieces: dict[str, list[tuple[str, float]]] = {}
    for bar in armature.bars:
        pieces.setdefault(bar.stock.stock_id, []).extend(
            (piece.name, piece.cut_mm) for piece in bar.pieces
        )
    by_id = {item.stock_id: item for item in rules.stock}
    return {
        stock_id: cut_plan(
            wanted,
            [
                item.length_mm
                for item in rules.stock
                if (item.form, item.material, item.diameter_mm, item.wall_mm)
                == (
                    by_id[stock_id].form,
                    by_id[stock_id].material,
                    by_id[stock_id].diameter_mm,
                    by_id[stock_id].wall_mm,
                )
            ],
            saw_cut_mm=rules.limit("saw cut (mm)"),
        )
        for stock_id, wanted in sorted(pieces.items())
    }
