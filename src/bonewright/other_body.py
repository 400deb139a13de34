"""The weighed body as it would be with other shares of fat and other densities, at once.

The shape, what lies in what, and each world's place in every range are kept; only what rests
on the moved choice is worked out again, draw by draw, by the functions of the step itself.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from bonewright.body.grown import GrownBody
from bonewright.body.layers import LeanBody, fat_shares_of
from bonewright.body.plan_doubts import sound_tissues
from bonewright.body.ranges import density_kg_m3, respread
from bonewright.body.weighing import BodyResult
from bonewright.errors import OutsideRange
from bonewright.quantity import Draws
from bonewright.study.ground_bird import TISSUES
from bonewright.study.model import Study, Tissue
from bonewright.study.settings import Choices, RangeChoice

__all__ = ["middle_body", "other_body", "tissues_used"]

_FAT = ("fat_lean_percent", "fat_mean_percent", "fat_fat_percent")


def tissues_used(study: Study) -> dict[str, Tissue]:
    """Return the density of each tissue that the body was grown with, by tissue.

    The study's own rows, but for those held out as doubtful; the program's for the rest.
    """
    sound, _ = sound_tissues(study.tissues, kept=study.kept, set_aside=study.set_aside)
    return {tissue.tissue: tissue for tissue in (*TISSUES, *sound)}


def other_body(
    body: BodyResult, before: Study, after: Choices, *, tissues: Sequence[Tissue] = ()
) -> BodyResult:
    """Weigh a body with other shares of fat, another density of the whole or of single tissues.

    Parameters
    ----------
    body : BodyResult
        As it was weighed for the study ``before``.
    before : Study
    after : Choices
    tissues : sequence of Tissue
        Densities that replace those the body was grown with.

    Raises
    ------
    OutsideRange
        If the choices are possible for no animal.

    Notes
    -----
    Where in the body the mass lies, and with it the stance and the balance, stays as it was.
    """
    was = before.settings.choices
    densities_moved = density_kg_m3(was.body_density) != density_kg_m3(after.body_density)
    if densities_moved:
        body = _of_other_density(body, was, after)
    grown = body.grown
    fat_moved = any(getattr(was, name) != getattr(after, name) for name in _FAT)
    if grown is None or not (fat_moved or tissues):
        return body
    lean = grown.lean
    if tissues:
        lean = _with_tissues(lean, tissues_used(before), tissues)
    mean = grown.states["mean"].fatness
    shares = fat_shares_of(after, variate=mean.variate, in_belly=mean.in_belly)
    lean_kg = np.sum(list(lean.mass_kg.values()), axis=0)
    states = {
        state: replace(
            one,
            fatness=shares[state],
            mass_draws_kg=lean_kg / (1 - shares[state].share),
            fat_draws_kg=lean_kg * shares[state].share / (1 - shares[state].share),
        )
        for state, one in grown.states.items()
    }
    return replace(body, grown=replace(grown, lean=lean, states=states))


def _of_other_density(body: BodyResult, was: Choices, now: Choices) -> BodyResult:
    """Weigh maquettes and scans, whose mass is volume times the density of a whole body."""
    density = body.density_draws_kg_m3
    moved = respread(
        density, before=density_kg_m3(was.body_density), after=density_kg_m3(now.body_density)
    )
    if moved.min() <= 0:
        raise OutsideRange(
            "So wide a range of body density holds bodies of no mass.", remedy="Narrow it."
        )
    factor = moved / density
    return replace(
        body,
        maquettes={
            name: replace(one, mass_draws_kg=one.mass_draws_kg * factor)
            for name, one in body.maquettes.items()
        },
        scans={
            name: replace(one, mass_draws_kg=one.mass_draws_kg * factor)
            for name, one in body.scans.items()
        },
    )


def _with_tissues(lean: LeanBody, used: Mapping[str, Tissue], moved: Sequence[Tissue]) -> LeanBody:
    """Fill the same layers with denser or lighter tissue."""
    densities = dict(lean.density_kg_m3)
    layers = dict(lean.layers_kg)
    for tissue in moved:
        name = tissue.tissue
        there = densities[name]
        densities[name] = respread(there, before=_range(used[name]), after=_range(tissue))
        if densities[name].min() <= 0:
            raise OutsideRange(
                f"So wide a range of the density of {name} holds tissue of no mass.",
                remedy="Narrow it.",
            )
        if name in layers:
            layers[name] = layers[name] * (densities[name] / there)
    before_kg, after_kg = (np.sum(list(one.values()), axis=0) for one in (lean.layers_kg, layers))
    mass_kg = {name: mass * (after_kg / before_kg) for name, mass in lean.mass_kg.items()}
    return replace(lean, mass_kg=mass_kg, layers_kg=layers, density_kg_m3=densities)


def _range(tissue: Tissue) -> RangeChoice:
    return RangeChoice(
        value=tissue.density_kg_m3,
        low=tissue.low_kg_m3,
        high=tissue.high_kg_m3,
        unit="kg/m3",
        reason="-",
    )


def middle_body(grown: GrownBody) -> GrownBody:
    """Reduce a grown body to its middle world, one draw, for drawing its shadow again and again.

    Holds what :func:`~bonewright.body.silhouettes.shadow_of_hoops` reads, so that the shadow
    is the same; its other numbers remain those of all draws.
    """
    mean = grown.states["mean"]
    stance = grown.stance
    fat_density = _middle(grown.lean.fat_density_kg_m3)
    fat_m3 = _middle(mean.fat_draws_kg / grown.lean.fat_density_kg_m3)
    middle_mean = replace(
        mean,
        fatness=replace(mean.fatness, in_belly=_middle(mean.fatness.in_belly)),
        fat_draws_kg=fat_m3 * fat_density,
    )
    return replace(
        grown,
        lofts=grown.typical,
        lean=replace(grown.lean, density_kg_m3={**grown.lean.density_kg_m3, "fat": fat_density}),
        skin_m2={name: _middle(area) for name, area in grown.skin_m2.items()},
        stance=replace(
            stance,
            swing_rad=_middle(stance.swing_rad),
            ground_mm=_middle(stance.ground_mm),
            foot_mm=_middle(stance.foot_mm.mean(axis=1))[:, None],
        ),
        states={**grown.states, "mean": middle_mean},
    )


def _middle(draws: Draws) -> Draws:
    return np.asarray(np.median(draws, axis=0, keepdims=True))
