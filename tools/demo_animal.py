"""The invented animal of the demo study: what it truly was.

Everything here is made up: an island, a giant flightless rail, its bones and its mass.
The other ``demo_*`` modules draw bones, sections, pictures and accounts from this truth;
the truth itself is written to the tests only.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

SCIENTIFIC_NAME: Final = "Ponderallus merrowendensis"

TRUE_MASS_KG: Final = 15.4
TRUE_DENSITY_KG_PER_L: Final = 0.94
# A male is 8 % longer than a female; the average animal stands between the two.
SEX_FACTOR: Final = {"male": 2 * 1.08 / 2.08, "female": 2 / 2.08}
SIZE_CV: Final = 0.04
SHAPE_CV: Final = 0.012
SIDE_CV: Final = 0.006

# Bones a bird of the true mass would have by the law of the living relatives, in mm.
LAWFUL_BONES_MM: Final[dict[str, dict[str, float]]] = {
    "skull": {"GL": 148.0, "CBL": 139.0, "GB": 52.0, "GH": 43.0, "SBO": 21.0},
    "mandible": {"GL": 121.0},
    "sternum": {"LM": 96.0, "dL": 84.0, "SBF": 47.0},
    "coracoid": {"GL": 63.0, "Lm": 58.0, "Bb": 25.0, "BF": 22.0},
    "scapula": {"GL": 92.0, "Dic": 16.0},
    "humerus": {"GL": 98.0, "Bp": 21.0, "SC": 7.4, "Bd": 15.2},
    "radius": {"GL": 61.0, "SC": 3.6, "Bd": 6.3},
    "ulna": {"GL": 71.0, "Bp": 10.4, "SC": 6.1, "Did": 9.2},
    "pelvis": {"LV": 171.0, "AA": 92.0, "SB": 71.0, "DiA": 18.5},
    "femur": {
        "GL": 172.0,
        "Lm": 164.0,
        "Bp": 43.0,
        "Dp": 33.0,
        "SC": 17.9,
        "Bd": 40.0,
        "Dd": 34.0,
        "CD": 57.0,
    },
    "tibiotarsus": {
        "GL": 262.0,
        "La": 251.0,
        "Dip": 47.0,
        "SC": 17.0,
        "Bd": 31.0,
        "Dd": 29.5,
        "CD": 57.5,
    },
    "tarsometatarsus": {"GL": 158.0, "Bp": 34.0, "SC": 18.4, "Bd": 38.5, "CD": 56.0},
}


@dataclass(frozen=True, slots=True, kw_only=True)
class LegLaw:
    """How one leg-bone measurement follows mass among the relatives.

    ln(mm) = ln(lawful mm at the true mass) + exponent x ln(mass / true mass) + deviation,
    the deviation with standard deviation ``spread_ln``. ``follows`` says which shared
    deviation of a species (leg length or shaft girth) it partly follows.
    """

    exponent: float
    spread_ln: float
    follows: str


# Deviation in mass is spread / exponent: about 0.1 for the shaft's circumference, 0.25 to
# 0.45 for lengths.
LEG_LAWS: Final[dict[tuple[str, str], LegLaw]] = {
    ("femur", "GL"): LegLaw(exponent=0.36, spread_ln=0.085, follows="length"),
    ("femur", "Bp"): LegLaw(exponent=0.39, spread_ln=0.055, follows="girth"),
    ("femur", "SC"): LegLaw(exponent=0.41, spread_ln=0.052, follows="girth"),
    ("femur", "Bd"): LegLaw(exponent=0.39, spread_ln=0.055, follows="girth"),
    ("femur", "CD"): LegLaw(exponent=0.415, spread_ln=0.040, follows="girth"),
    ("tibiotarsus", "GL"): LegLaw(exponent=0.37, spread_ln=0.120, follows="length"),
    ("tibiotarsus", "SC"): LegLaw(exponent=0.40, spread_ln=0.058, follows="girth"),
    ("tibiotarsus", "Bd"): LegLaw(exponent=0.38, spread_ln=0.060, follows="girth"),
    ("tibiotarsus", "CD"): LegLaw(exponent=0.405, spread_ln=0.047, follows="girth"),
    ("tarsometatarsus", "GL"): LegLaw(exponent=0.38, spread_ln=0.165, follows="length"),
    ("tarsometatarsus", "Bp"): LegLaw(exponent=0.39, spread_ln=0.060, follows="girth"),
    ("tarsometatarsus", "SC"): LegLaw(exponent=0.41, spread_ln=0.075, follows="girth"),
    ("tarsometatarsus", "Bd"): LegLaw(exponent=0.39, spread_ln=0.065, follows="girth"),
    ("tarsometatarsus", "CD"): LegLaw(exponent=0.41, spread_ln=0.055, follows="girth"),
}
# Measurements that only the lost animal has follow a neighbour on the same bone.
NEIGHBOUR: Final = {
    ("femur", "Lm"): "GL",
    ("femur", "Dp"): "Bp",
    ("femur", "Dd"): "Bd",
    ("tibiotarsus", "La"): "GL",
    ("tibiotarsus", "Dip"): "Bd",
    ("tibiotarsus", "Dd"): "Bd",
}
# How far a measurement follows the species' shared deviation; the rest is its own.
SHARED_WEIGHT: Final = {"length": 0.7, "girth": 0.6}


def deviation_ln(law: LegLaw, *, shared: float, own: float) -> float:
    """Return a species' deviation from the law, given two standard normal numbers."""
    weight = SHARED_WEIGHT[law.follows]
    return law.spread_ln * (weight * shared + float(np.sqrt(1 - weight**2)) * own)


def average_bones_mm(rng: np.random.Generator) -> dict[tuple[str, str], float]:
    """Draw the true average bones: the law's, off by the lost species' own deviations."""
    shared = {"length": float(rng.normal(0, 0.5)), "girth": float(rng.normal(0, 0.5))}
    off_ln = {
        key: deviation_ln(law, shared=shared[law.follows], own=float(rng.normal()))
        for key, law in LEG_LAWS.items()
    }
    bones: dict[tuple[str, str], float] = {}
    for element, codes in LAWFUL_BONES_MM.items():
        for code, lawful in codes.items():
            like = (element, NEIGHBOUR.get((element, code), code))
            bones[element, code] = lawful * float(np.exp(off_ln.get(like, 0.0)))
    return bones
