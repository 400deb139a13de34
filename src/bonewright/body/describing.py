"""The grown body as findings: what each number is, and how it was got."""

from collections.abc import Sequence

import numpy as np

from bonewright.body.as_finding import body_finding
from bonewright.body.fat_states import GrownState
from bonewright.body.grown import GrownBody
from bonewright.body.plan import bones_of_plan
from bonewright.body.published_laws import respiratory_volume_m3
from bonewright.findings import Caveat, Finding, HowGot, RowRef, Statement

__all__ = ["gap_findings", "grown_findings"]

_STATE_WORDS = {"lean": "when lean", "mean": "over the year", "fat": "when fat"}


_Codes = tuple[tuple[str, str], ...]


def _bones_of(body: GrownBody, foretold: _Codes) -> tuple[str, ...]:
    return tuple(
        f"skeleton.{'from_relatives' if key in foretold else 'mean'}.{key[0]}.{key[1]}"
        for key in bones_of_plan(body.plan)
    )


def _caveats(body: GrownBody, held_out: tuple[RowRef, ...], foretold: _Codes) -> tuple[Caveat, ...]:
    own = ", ".join(body.plan.replaced)
    caveats = [
        Caveat(
            code="plan's judgement",
            text=(
                "How much flesh the body plan lays on the bones is a judgement, "
                + (
                    f"the study's own for {own} and this program's for the rest"
                    if own
                    else "this program's for a ground bird"
                )
                + "; the interval holds only what study.toml allows for it."
            ),
        )
    ]
    if body.stance.beyond:
        joints = ", ".join(body.stance.beyond)
        caveats.append(
            Caveat(
                code="joint beyond range",
                text=f"To stand over its feet the body turns these joints beyond the range the"
                f" plan gives them: {joints}. The pose, the legs' lengths or the plan is off.",
            )
        )
    if foretold:
        bones = ", ".join(f"{element} {code}" for element, code in foretold)
        caveats.append(
            Caveat(
                code="bones from relatives",
                text=f"The animal has not left {bones}: living relatives tell their size, so that"
                " the grown body is no witness apart from relatives.",
            )
        )
    if held_out:
        caveats.append(
            Caveat(
                code="rows held out",
                text="Doubtful rows of the body plan are left out until you decide about them: "
                + "; ".join(ref.words() for ref in held_out)
                + ".",
                rows=held_out,
            )
        )
    return tuple(caveats)


def grown_findings(
    body: GrownBody, *, held_out: tuple[RowRef, ...], foretold: _Codes = ()
) -> tuple[Finding, ...]:
    """Describe the grown body: mass, volume, density, balance, size, layers.

    ``foretold`` are bones of its plan that only living relatives tell.
    """
    caveats = _caveats(body, held_out, foretold)
    rows = body.plan.own_rows
    bones = _bones_of(body, foretold)
    mean = body.states["mean"]
    masses = [
        body_finding(
            f"grown.mass.{state}",
            f"Body mass, grown from the skeleton, {_STATE_WORDS[state]}",
            result.mass_draws_kg,
            "kg",
            formula="(bone + skin + muscle of every segment) / (1 - share of fat)",
            inputs=(*bones, "choices.grown_shape_percent", f"choices.fat_{state}_percent"),
            rows=rows,
            caveats=caveats,
        )
        for state, result in body.states.items()
    ]
    legs = np.sum(
        [body.segment_kg[name] for name in _leg_segments(body) if name in body.segment_kg], axis=0
    )
    air = body.lean.air_m3
    published_l = 1000 * float(np.median(respiratory_volume_m3(mean.mass_draws_kg)))
    return (
        *masses,
        body_finding(
            "grown.volume.mean",
            "Volume of the grown body, plumage not counted",
            mean.volume_draws_m3,
            "m3",
            formula="segments lofted through their hoops, what two share counted once, and fat",
            inputs=(*bones, "choices.grown_shape_percent"),
            rows=rows,
            caveats=caveats,
        ),
        body_finding(
            "grown.density.mean",
            "Density of the grown body",
            mean.mass_draws_kg / mean.volume_draws_m3,
            "kg/m3",
            formula="mass / volume",
            inputs=("body.grown.mass.mean", "body.grown.volume.mean"),
        ),
        body_finding(
            "grown.air",
            "Air in lungs and air sacs of the grown body",
            air,
            "m3",
            formula="share of air x volume, over the segments; birds of this mass are published"
            f" to hold about {published_l:.2g} L",
            inputs=("body.grown.volume.mean",),
            sources=("LasiewskiCalder1971",),
        ),
        body_finding(
            "grown.legs",
            "Mass of both legs, skin to toes",
            legs,
            "kg",
            formula="segments from the hip to the toes, so far as they stand clear of the trunk",
            inputs=("body.grown.mass.mean",),
        ),
        *_balance_findings(body, caveats),
        *_inertia_findings(mean),
    )


def _leg_segments(body: GrownBody) -> list[str]:
    legs = {name for name, part in body.plan.segments.items() if part.segment.on_ground}
    for name in list(legs):
        at = body.plan.segments[name].segment
        while at.parent is not None and body.plan.segments[at.parent].copies == 2:
            legs.add(at.parent)
            at = body.plan.segments[at.parent].segment
    return [name for name in body.plan.segments if name in legs]


def _balance_findings(body: GrownBody, caveats: tuple[Caveat, ...]) -> tuple[Finding, ...]:
    mean, fat = body.states["mean"], body.states["fat"]
    stood = "joints turned until the centre of mass stands over the middle of the feet"
    return (
        body_finding(
            "grown.hip_height",
            "Height of the hip, standing",
            body.stance.hip_height_mm / 1000,
            "m",
            formula=f"hip joint above the soles; {stood}",
            inputs=tuple(
                f"skeleton.mean.{segment.element}.{segment.code}"
                for segment in (body.plan.segments[name].segment for name in _leg_segments(body))
                if segment.balance or not segment.on_ground
            ),
            caveats=caveats[1:],
        ),
        body_finding(
            "grown.height",
            "Height of the highest point, standing",
            body.height_m,
            "m",
            formula=f"highest hoop above the soles; {stood}",
            inputs=("body.grown.hip_height",),
            caveats=caveats,
        ),
        body_finding(
            "grown.centre.height",
            "Height of the centre of mass, standing",
            mean.centre_m[:, 1],
            "m",
            formula="mean of the segments' centres, weighted by mass, above the soles",
            inputs=("body.grown.mass.mean", "body.grown.hip_height"),
        ),
        body_finding(
            "grown.centre.shift_when_fat",
            "How far fat moves the centre of mass forward, standing as before",
            fat.centre_m[:, 0] - mean.centre_m[:, 0],
            "m",
            formula="centre of mass when fat less that over the year, along the body",
            inputs=("body.grown.mass.fat", "choices.fat_in_belly_percent"),
        ),
        body_finding(
            "grown.swing",
            "How far the legs were turned from the plan's pose to stand",
            np.degrees(body.stance.swing_rad),
            "degrees",
            formula=stood,
            inputs=("body.grown.centre.height",),
        ),
    )


def _inertia_findings(state: GrownState) -> tuple[Finding, ...]:
    axes = (
        ("roll", "its long axis", 0),
        ("pitch", "a side-to-side axis", 1),
        ("yaw", "an upright axis", 2),
    )
    return tuple(
        body_finding(
            f"grown.inertia.{name}",
            f"Moment of inertia about {words} through the centre of mass",
            state.inertia_kg_m2[:, place, place],
            "kg m2",
            formula="second moments of the segments about the whole body's centre of mass",
            inputs=("body.grown.mass.mean",),
        )
        for name, words, place in axes
    )


def gap_findings(gaps: Sequence[str]) -> tuple[Finding, ...]:
    """Say why no body could be grown from the skeleton."""
    return tuple(
        Finding(
            key="body.grown.none",
            step="body",
            title="Body grown from the skeleton",
            value=Statement(text=gap),
            how=HowGot(formula="the body plan refers to measurements of the average skeleton"),
        )
        for gap in gaps[-1:]
    )
