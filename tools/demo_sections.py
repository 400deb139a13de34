"""The invented cross-sections of leg bones, by callipers and by outline."""

import io
from dataclasses import dataclass
from typing import Final

import numpy as np
from PIL import Image
from scipy.ndimage import gaussian_filter
from scipy.optimize import brentq
from scipy.special import ellipe

from demo_animal import TRUE_MASS_KG
from demo_bones import Bone
from demo_relatives import STILT_SPECIES, LivingSpecies

Row = dict[str, str]

GRAVITY_M_PER_S2: Final = 9.80665
LEG_BONES: Final = ("femur", "tibiotarsus", "tarsometatarsus")
# Breadth over depth at mid-shaft, and the lost animal's strength indicator per GPa.
BREADTH_OVER_DEPTH: Final = {"femur": 1.0, "tibiotarsus": 1.06, "tarsometatarsus": 1.18}
LOST_INDICATOR_PER_GPA: Final = {"femur": 26.0, "tibiotarsus": 16.0, "tarsometatarsus": 20.0}
# The shaft's middle is a little thicker than its thinnest place.
MIDSHAFT_OVER_LEAST: Final = 1.03
RUNNER_SPREAD_LN: Final = 0.45
HOLLOW_OF_OTHERS: Final = (0.84, 0.9)
READING_CV: Final = 0.005
WALL_CV: Final = 0.01
N_OUTLINE_POINTS: Final = 72
# The picture of a break still to be traced: its bone, its scale, its bar.
BREAK_BONE, BREAK_PIXELS_PER_MM, BREAK_BAR_MM = "femur", 11.0, 10
SCANNED_PERCENT: Final = (10, 20, 30, 40, 60, 70, 80, 90)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shaft:
    """Diameters of a shaft's middle, in mm: outer and inner, breadth and depth."""

    outer_breadth: float
    outer_depth: float
    inner_breadth: float
    inner_depth: float

    def modulus_mm3(self) -> float:
        """Section modulus about the mediolateral axis."""
        inertia = (
            np.pi
            / 64
            * (self.outer_breadth * self.outer_depth**3 - self.inner_breadth * self.inner_depth**3)
        )
        return float(inertia / (self.outer_depth / 2))


def indicator_per_gpa(shaft: Shaft, *, length_mm: float, mass_kg: float) -> float:
    """Strength indicator Z/(m g x) of a mid-shaft section, one pair of legs."""
    arm_m = length_mm / 2 / 1000
    return shaft.modulus_mm3() * 1e-9 / (mass_kg * GRAVITY_M_PER_S2 * arm_m) * 1e9


def shaft(*, element: str, circumference_mm: float, hollow: float) -> Shaft:
    """Return a shaft of that circumference; ``hollow`` is inner over outer diameter."""
    ratio = BREADTH_OVER_DEPTH[element]
    depth = circumference_mm / float(2 * ratio * ellipe(1 - 1 / ratio**2))
    return Shaft(
        outer_breadth=ratio * depth,
        outer_depth=depth,
        inner_breadth=ratio * depth * hollow,
        inner_depth=depth * hollow,
    )


def shaft_as_strong_as(
    indicator: float, *, element: str, circumference_mm: float, length_mm: float, mass_kg: float
) -> Shaft:
    """Find the wall that gives a shaft of that circumference that strength."""

    def miss(hollow: float) -> float:
        candidate = shaft(element=element, circumference_mm=circumference_mm, hollow=hollow)
        return indicator_per_gpa(candidate, length_mm=length_mm, mass_kg=mass_kg) - indicator

    hollow = float(brentq(miss, 0.3, 0.95))
    return shaft(element=element, circumference_mm=circumference_mm, hollow=hollow)


def lost_shafts(average_mm: dict[tuple[str, str], float]) -> dict[str, Shaft]:
    """Return the average lost animal's shafts."""
    return {
        element: shaft_as_strong_as(
            LOST_INDICATOR_PER_GPA[element],
            element=element,
            circumference_mm=average_mm[element, "CD"] * MIDSHAFT_OVER_LEAST,
            length_mm=average_mm[element, "GL"],
            mass_kg=TRUE_MASS_KG,
        )
        for element in LEG_BONES
    }


def _diameters(rng: np.random.Generator, shaft: Shaft, *, factor: float = 1.0) -> Row:
    def read(value: float) -> str:
        return f"{value * factor * float(np.exp(rng.normal(0, READING_CV))):.2f}"

    return {
        "outerMediolateral": read(shaft.outer_breadth),
        "outerAnteroposterior": read(shaft.outer_depth),
        "innerMediolateral": read(shaft.inner_breadth),
        "innerAnteroposterior": read(shaft.inner_depth),
    }


def outline_csv(rng: np.random.Generator, shaft: Shaft, *, factor: float) -> str:
    """Trace a shaft's outer edge and marrow space as rings of points, a little uneven."""
    angle = np.linspace(0, 2 * np.pi, N_OUTLINE_POINTS, endpoint=False)
    rings = [
        (shaft.outer_breadth, shaft.outer_depth),
        (shaft.inner_breadth, shaft.inner_depth),
    ]
    lines = ["ring,x,y"]
    for ring, (breadth, depth) in enumerate(rings):
        wave = 0.012 * np.cos(3 * angle + float(rng.uniform(0, 2 * np.pi)))
        rough = rng.normal(0, 0.002, N_OUTLINE_POINTS)
        radius = factor * (1 + wave + rough)
        x = 20 + breadth / 2 * radius * np.cos(angle)
        y = 20 + depth / 2 * radius * np.sin(angle)
        lines += [f"{ring},{a:.2f},{b:.2f}" for a, b in zip(x, y, strict=True)]
    return "\n".join(lines) + "\n"


def lost_sections(
    rng: np.random.Generator, bones: list[Bone], average_mm: dict[tuple[str, str], float]
) -> tuple[list[Row], dict[str, str]]:
    """Cut four bones of each kind: three by callipers, the fourth by outline."""
    rows: list[Row] = []
    outlines: dict[str, str] = {}
    for element, average in lost_shafts(average_mm).items():
        sound = [
            bone
            for bone in bones
            if bone.element == bone.entered_as == element
            and bone.preservation == "complete"
            and bone.preparation == "bone"
            and bone.life_stage == "adult"
        ]
        for turn, index in enumerate(rng.permutation(len(sound))[:4]):
            bone = sound[int(index)]
            factor = bone.true_mm["CD"] / average_mm[element, "CD"]
            own = Shaft(
                outer_breadth=average.outer_breadth,
                outer_depth=average.outer_depth,
                inner_breadth=average.inner_breadth * float(np.exp(rng.normal(0, WALL_CV))),
                inner_depth=average.inner_depth * float(np.exp(rng.normal(0, WALL_CV))),
            )
            row = {
                "sectionID": f"sec-{len(rows) + 1:02d}",
                "materialEntityID": bone.bone_id,
                "element": element,
                "position": "50",
                "boneLength": f"{bone.true_mm['GL']:.1f}",
                "measurementUnit": "mm",
                "sourceID": "src-08",
            }
            if turn < 3:
                row |= _diameters(rng, own, factor=factor)
                row["sectionRemarks"] = "old break squared off, callipers"
            else:
                file = f"outlines/{row['sectionID']}.csv"
                outlines[file] = outline_csv(rng, own, factor=factor)
                row["outlineFile"] = file
                row["sectionRemarks"] = "traced from a slice image"
            rows.append(row)
    return rows, outlines


def scanned_sections(
    rng: np.random.Generator,
    rows: list[Row],
    bones: list[Bone],
    average_mm: dict[tuple[str, str], float],
) -> tuple[list[Row], dict[str, str]]:
    """Cut the femur whose slice was traced at further places along its length, by CT.

    A shaft thickens towards its ends while its wall thins, and bows forward in between.
    """
    middle = next(row for row in rows if row["element"] == "femur" and "outlineFile" in row)
    bone = next(bone for bone in bones if bone.bone_id == middle["materialEntityID"])
    average = lost_shafts(average_mm)["femur"]
    factor = bone.true_mm["CD"] / average_mm["femur", "CD"]
    scanned: list[Row] = []
    outlines: dict[str, str] = {}
    for percent in SCANNED_PERCENT:
        off = abs(percent / 50 - 1)
        wide, thin = 1 + 0.75 * off**3, 1 + 0.78 * off**3 + 0.04 * off
        own = Shaft(
            outer_breadth=average.outer_breadth * wide,
            outer_depth=average.outer_depth * (1 + 0.45 * off**3),
            inner_breadth=average.inner_breadth * thin,
            inner_depth=average.inner_depth * (1 + 0.47 * off**3 + 0.04 * off),
        )
        row = {
            "sectionID": f"sec-{len(rows) + len(scanned) + 1:02d}",
            "materialEntityID": bone.bone_id,
            "element": "femur",
            "position": str(percent),
            "boneLength": middle["boneLength"],
            "measurementAccuracy": "0.05",
            "axisOffset": f"{0.018 * bone.true_mm['GL'] * (1 - off**2):.1f}",
            "measurementUnit": "mm",
            "sourceID": "src-08",
            "sectionRemarks": "cut from a CT stack across the bone's axis",
        }
        row["outlineFile"] = f"outlines/{row['sectionID']}.csv"
        outlines[row["outlineFile"]] = outline_csv(rng, own, factor=factor)
        scanned.append(row)
    return scanned, outlines


def picture_of_break(
    rng: np.random.Generator, bones: list[Bone], average_mm: dict[tuple[str, str], float]
) -> dict[str, bytes]:
    """Draw a broken femur end on, with a scale bar, as a grey TIFF (its bytes are plain)."""
    bone = next(
        bone
        for bone in bones
        if bone.element == bone.entered_as == BREAK_BONE and bone.preservation == "broken"
    )
    shaft = lost_shafts(average_mm)[BREAK_BONE]
    scale = bone.true_mm["CD"] / average_mm[BREAK_BONE, "CD"] * BREAK_PIXELS_PER_MM
    y, x = np.mgrid[:300, :320].astype(float)
    x, y = x - 158, 140 - y

    def outside(breadth: float, depth: float) -> np.ndarray:
        reach = np.hypot(2 * x / breadth, 2 * y / depth) / scale
        return np.asarray(reach > 1 + 0.015 * np.cos(3 * np.arctan2(y, x) + 0.7))

    ring = outside(shaft.inner_breadth, shaft.inner_depth) & ~outside(
        shaft.outer_breadth, shaft.outer_depth
    )
    cloth = 34 + 10 * np.cos(x / 90) + gaussian_filter(rng.normal(0, 14, x.shape), 2)
    grey = np.where(ring, 196 + gaussian_filter(rng.normal(0, 30, x.shape), 3), cloth)
    bar = slice(24, 24 + round(BREAK_BAR_MM * BREAK_PIXELS_PER_MM))
    grey[276:282, bar] = 235
    grey = gaussian_filter(grey, 0.9) + rng.normal(0, 3, x.shape)
    picture = Image.fromarray(np.clip(np.round(grey), 0, 255).astype(np.uint8))
    out = io.BytesIO()
    picture.save(out, "TIFF")
    return {f"breaks/{bone.bone_id}.tif": out.getvalue()}


def relative_sections(rng: np.random.Generator, relatives: list[LivingSpecies]) -> list[Row]:
    """Section the leg bones of every runner and of a few walkers and waders."""
    runners = [species for species in relatives if species.locomotion == "runner"]
    others = [
        species
        for kind, n in (("walker", 5), ("wader", 3))
        for species in [s for s in relatives if s.locomotion == kind and s.name != STILT_SPECIES][
            -n:
        ]
    ]
    rows: list[Row] = []
    for element in LEG_BONES:
        # Stout bones are strong ones; how thick their walls are loosens the order.
        looseness = rng.normal(0, 0.12, len(runners))
        stout_ln = [
            np.log(
                species.bones_mm[element, "CD"] ** 3
                / (species.bones_mm[element, "GL"] * species.mass_kg)
            )
            for species in runners
        ]
        rank = np.argsort(np.argsort(stout_ln + looseness))
        steps_ln = np.linspace(-RUNNER_SPREAD_LN, RUNNER_SPREAD_LN, len(runners))[rank]
        for species in runners + others:
            length = species.bones_mm[element, "GL"]
            circumference = species.bones_mm[element, "CD"] * MIDSHAFT_OVER_LEAST
            if species.locomotion == "runner":
                off_ln = float(steps_ln[runners.index(species)])
                own = shaft_as_strong_as(
                    LOST_INDICATOR_PER_GPA[element] * float(np.exp(off_ln)),
                    element=element,
                    circumference_mm=circumference,
                    length_mm=length,
                    mass_kg=species.mass_kg,
                )
            else:
                hollow = float(rng.uniform(*HOLLOW_OF_OTHERS))
                own = shaft(element=element, circumference_mm=circumference, hollow=hollow)
            rows.append(
                {
                    "sectionID": f"rsec-{len(rows) + 1:02d}",
                    "scientificName": species.name,
                    "element": element,
                    "position": "50",
                    "boneLength": f"{length:.1f}",
                    "measurementUnit": "mm",
                    "sourceID": "src-10",
                    **_diameters(rng, own),
                }
            )
    return rows
