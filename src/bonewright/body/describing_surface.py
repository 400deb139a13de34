"""Skin, plumage and the fat cycle of the grown body as findings."""

import numpy as np

from bonewright.body.as_finding import body_finding
from bonewright.body.condition import FASTING_RATES, Fasting
from bonewright.body.grown import GrownBody
from bonewright.body.published_laws import plumage_mass_kg, skin_area_m2
from bonewright.findings import Caveat, Finding, HowGot, RowRef, Statement

__all__ = ["fasting_findings", "plumage_findings"]

# Living birds' plumage lies at about 20 degrees to the skin (common practice).
_LIE_OF_FEATHERS = float(np.sin(np.radians(20.0)))


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
        body_finding(
            "skin.area",
            "Area of the skin",
            skin,
            "m2",
            formula="surface of the joined segments; at this mass 10 m^(2/3) cm2 with m in g is"
            f" published, here {float(np.median(skin_area_m2(mean.mass_draws_kg))):.2g} m2",
            inputs=("body.grown.volume.mean",),
            sources=("WalsbergKing1978",),
        ),
        body_finding(
            "plumage.area",
            "Area of the skin under feathers",
            feathered,
            "m2",
            formula="skin of the segments that carry plumage",
            inputs=("body.skin.area",),
        ),
        body_finding(
            "plumage.bulk",
            "Share of what is seen that is feathers",
            100 * (1 - mean.volume_draws_m3 / body.feathered_volume_m3),
            "%",
            formula="1 - volume of the body / volume in its plumage",
            inputs=("body.grown.volume.mean", "choices.plumage_depth_percent"),
            caveats=(assumed,),
        ),
        body_finding(
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
        body_finding(
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
        body_finding(
            "condition.fat_laid_on",
            "Fat between the lean and the fat state",
            fasting.fat_spent_kg,
            "kg",
            formula="mass when fat - mass when lean",
            inputs=("body.grown.mass.fat", "body.grown.mass.lean"),
        ),
        body_finding(
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
