"""The grown body and the scans as findings: what each number is, and how it was got."""

from collections.abc import Mapping, Sequence

import numpy as np

from bonewright.body.condition import FASTING_RATES, Fasting
from bonewright.body.grown import GrownBody, GrownState
from bonewright.body.published_laws import (
    plumage_mass_kg,
    respiratory_volume_m3,
    skin_area_m2,
)
from bonewright.body.scans import HULL_MULTIPLIER, ScannedBody
from bonewright.findings import Caveat, Doubt, Finding, HowGot, RowRef, Statement
from bonewright.quantity import Draws, Quantity

__all__ = [
    "fasting_findings",
    "gap_findings",
    "grown_findings",
    "plumage_findings",
    "scan_findings",
]

_STATE_WORDS = {"lean": "when lean", "mean": "over the year", "fat": "when fat"}
# Living birds' plumage lies at about 20 degrees to the skin (common practice).
_LIE_OF_FEATHERS = float(np.sin(np.radians(20.0)))


def _finding(
    key: str,
    title: str,
    draws: Draws,
    unit: str,
    *,
    formula: str,
    inputs: tuple[str, ...] = (),
    rows: tuple[RowRef, ...] = (),
    sources: tuple[str, ...] = (),
    caveats: tuple[Caveat, ...] = (),
) -> Finding:
    return Finding(
        key=f"body.{key}",
        step="body",
        title=title,
        value=Quantity(draws=draws, unit=unit),
        how=HowGot(formula=formula, inputs=inputs, rows=rows, sources=sources),
        caveats=caveats,
    )


def _bones_of(body: GrownBody) -> tuple[str, ...]:
    named = dict.fromkeys(
        (element, code)
        for part in body.plan.segments.values()
        for element, code in (
            (part.segment.element, part.segment.code),
            *((hoop.element, hoop.code) for hoop in part.hoops if hoop.element),
        )
    )
    return tuple(f"skeleton.mean.{element}.{code}" for element, code in named)


def _caveats(body: GrownBody, held_out: tuple[RowRef, ...]) -> tuple[Caveat, ...]:
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


def grown_findings(body: GrownBody, *, held_out: tuple[RowRef, ...]) -> tuple[Finding, ...]:
    """Describe the grown body: mass, volume, density, balance, size, layers."""
    caveats = _caveats(body, held_out)
    rows = body.plan.own_rows
    bones = _bones_of(body)
    mean = body.states["mean"]
    masses = [
        _finding(
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
        _finding(
            "grown.volume.mean",
            "Volume of the grown body, plumage not counted",
            mean.volume_draws_m3,
            "m3",
            formula="segments lofted through their hoops, what two share counted once, and fat",
            inputs=(*bones, "choices.grown_shape_percent"),
            rows=rows,
            caveats=caveats,
        ),
        _finding(
            "grown.density.mean",
            "Density of the grown body",
            mean.mass_draws_kg / mean.volume_draws_m3,
            "kg/m3",
            formula="mass / volume",
            inputs=("body.grown.mass.mean", "body.grown.volume.mean"),
        ),
        _finding(
            "grown.air",
            "Air in lungs and air sacs of the grown body",
            air,
            "m3",
            formula="share of air x volume, over the segments; birds of this mass are published"
            f" to hold about {published_l:.2g} L",
            inputs=("body.grown.volume.mean",),
            sources=("LasiewskiCalder1971",),
        ),
        _finding(
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
        _finding(
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
        _finding(
            "grown.height",
            "Height of the highest point, standing",
            body.height_m,
            "m",
            formula=f"highest hoop above the soles; {stood}",
            inputs=("body.grown.hip_height",),
            caveats=caveats,
        ),
        _finding(
            "grown.centre.height",
            "Height of the centre of mass, standing",
            mean.centre_m[:, 1],
            "m",
            formula="mean of the segments' centres, weighted by mass, above the soles",
            inputs=("body.grown.mass.mean", "body.grown.hip_height"),
        ),
        _finding(
            "grown.centre.shift_when_fat",
            "How far fat moves the centre of mass forward, standing as before",
            fat.centre_m[:, 0] - mean.centre_m[:, 0],
            "m",
            formula="centre of mass when fat less that over the year, along the body",
            inputs=("body.grown.mass.fat", "choices.fat_in_belly_percent"),
        ),
        _finding(
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
        _finding(
            f"grown.inertia.{name}",
            f"Moment of inertia about {words} through the centre of mass",
            state.inertia_kg_m2[:, place, place],
            "kg m2",
            formula="second moments of the segments about the whole body's centre of mass",
            inputs=("body.grown.mass.mean",),
        )
        for name, words, place in axes
    )


def plumage_findings(body: GrownBody, *, held_out: tuple[RowRef, ...]) -> tuple[Finding, ...]:
    """Describe skin and plumage: area, depth, mass, and how much of the bulk is feathers."""
    mean = body.states["mean"]
    skin = np.sum(list(body.skin_m2.values()), axis=0)
    feathered = np.sum(
        [area for name, area in body.skin_m2.items() if name in body.plumage_depth_mm], axis=0
    )
    root = next(iter(body.plan.segments))
    assumed = Caveat(
        code="plumage",
        text="No feather is left: depth and mass of the plumage are assumptions.",
        rows=held_out,
    )
    findings = [
        _finding(
            "skin.area",
            "Area of the skin",
            skin,
            "m2",
            formula="surface of the joined segments; at this mass 10 m^(2/3) cm2 with m in g is"
            f" published, here {float(np.median(skin_area_m2(mean.mass_draws_kg))):.2g} m2",
            inputs=("body.grown.volume.mean",),
            sources=("WalsbergKing1978",),
        ),
        _finding(
            "plumage.area",
            "Area of the skin under feathers",
            feathered,
            "m2",
            formula="skin of the segments that carry plumage",
            inputs=("body.skin.area",),
        ),
        _finding(
            "plumage.bulk",
            "Share of what is seen that is feathers",
            100 * (1 - mean.volume_draws_m3 / body.feathered_volume_m3),
            "%",
            formula="1 - volume of the body / volume in its plumage",
            inputs=("body.grown.volume.mean", "choices.plumage_depth_percent"),
            caveats=(assumed,),
        ),
        _finding(
            "plumage.mass",
            "Mass of the plumage",
            plumage_mass_kg(mean.mass_draws_kg),
            "kg",
            formula="0.09 m^0.95, both in g",
            inputs=("body.grown.mass.mean",),
            sources=("Turcek1966",),
            caveats=(assumed,),
        ),
    ]
    findings += [
        _finding(
            f"plumage.depth.{name.replace(' ', '_')}",
            f"Depth of the plumage on the {name}, at its thickest",
            depth,
            "mm",
            formula="the plan's share of the half-width; feathers that lie at 20 degrees are"
            f" about {float(np.median(depth)) / _LIE_OF_FEATHERS:.0f} mm long (common practice)",
            inputs=("choices.plumage_depth_percent",),
            caveats=(assumed,),
        )
        for name, depth in body.plumage_depth_mm.items()
        if name == root or body.skin_m2.get(name, np.zeros(1)).max() > 0.01
    ]
    return tuple(findings)


def fasting_findings(body: GrownBody, fasting: Fasting) -> tuple[Finding, ...]:
    """Describe the fat cycle: what is laid on, and how long it lasts."""
    fat = body.states["fat"]
    share = float(np.median(fat.fatness.share))
    rates = "; ".join(
        f"{rate.words}: {float(np.median(rate.basal_kj_per_day(fat.mass_draws_kg))):,.0f}".replace(
            ",", "\u202f"
        )
        for rate in FASTING_RATES
    )
    beside = "less than" if share < 0.33 else "as much as" if share < 0.37 else "more than"
    return (
        _finding(
            "condition.fat_laid_on",
            "Fat between the lean and the fat state",
            fasting.fat_spent_kg,
            "kg",
            formula="mass when fat - mass when lean",
            inputs=("body.grown.mass.fat", "body.grown.mass.lean"),
        ),
        _finding(
            "condition.fasting_days",
            "Days the fat would last without food",
            fasting.days,
            "days",
            formula="energy of the fat / (basal rate x rate when fasting), mass falling as it is"
            f" spent; basal rates when fat, kJ a day: {rates}",
            inputs=("body.condition.fat_laid_on", "choices.fasting_rate"),
            sources=tuple(rate.source for rate in FASTING_RATES),
            caveats=(
                Caveat(
                    code="hypothesis",
                    text="That the animal fattened and fasted is a hypothesis: the days follow"
                    " from the fat assumed for the two states.",
                ),
            ),
        ),
        Finding(
            key="body.condition.beside_living_birds",
            step="body",
            title="Fat of the fat state beside living birds",
            value=Statement(
                text=f"{100 * share:.0f} % fat is {beside} the 35 % of body mass published for"
                " a ptarmigan in autumn; a close relative of that bird carries hardly any fat all"
                " year, so that kinship alone proves no fat cycle."
            ),
            how=HowGot(
                formula="share of fat in body mass when fat",
                inputs=("choices.fat_fat_percent",),
                sources=("SvalbardPtarmigan",),
            ),
        ),
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


def scan_findings(
    scans: Mapping[str, ScannedBody],
    *,
    doubts: Sequence[Doubt],
    refused: Mapping[str, str],
) -> tuple[Finding, ...]:
    """Describe each scanned body, what was mended on its scan, and the scans refused."""
    held_out = tuple(doubt.ref for doubt in doubts if doubt.held_out)
    findings = []
    for name, scan in scans.items():
        caveats = []
        if scan.repairs:
            caveats.append(
                Caveat(
                    code="scan mended",
                    text="The scan was mended: " + "; ".join(scan.repairs) + ".",
                    rows=scan.rows,
                )
            )
        hull = scan.kind == "skeleton"
        if hull:
            caveats.append(
                Caveat(
                    code="multiplier of mammals",
                    text=f"The multiplier {HULL_MULTIPLIER[0]:g} was found on 14 mammals; no value"
                    f" for birds is at hand, so the range {HULL_MULTIPLIER[1]:g} to"
                    f" {HULL_MULTIPLIER[2]:g} is a guess (common practice).",
                )
            )
        else:
            caveats.append(
                Caveat(
                    code="modeller's eye",
                    text="How much flesh the scanned model carries is one modeller's judgement;"
                    " the interval holds only what study.toml allows for it.",
                )
            )
        if held_out:
            caveats.append(
                Caveat(
                    code="rows held out",
                    text="Doubtful scans are left out until you decide about them: "
                    + "; ".join(ref.words() for ref in held_out)
                    + ".",
                    rows=held_out,
                )
            )
        findings.append(
            _finding(
                f"scan.mass.{name.replace(' ', '_')}",
                f"Body mass from the scan of {name}"
                + (" (hulls of its skeleton)" if hull else f" ({scan.state})"),
                scan.mass_draws_kg,
                "kg",
                formula=(
                    f"volume of the convex hulls, {scan.volume_m3 * 1000:.4g} L, x"
                    f" {HULL_MULTIPLIER[0]:g} x body density"
                    if hull
                    else f"volume enclosed at life size, {scan.volume_m3 * 1000:.4g} L, x body"
                    " density x (1 + what the shape may be off)"
                ),
                inputs=("choices.body_density",)
                + (() if hull else ("choices.maquette_shape_percent",)),
                rows=scan.rows,
                sources=("Sellers2012",) if hull else (),
                caveats=tuple(caveats),
            )
        )
    findings += [
        Finding(
            key=f"body.scan.refused.{name.replace(' ', '_')}",
            step="body",
            title=f"Scan of {name} not used",
            value=Statement(text=why),
            how=HowGot(formula="a surface must be closed to enclose a volume"),
        )
        for name, why in refused.items()
    ]
    return tuple(findings)
