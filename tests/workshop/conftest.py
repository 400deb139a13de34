"""A made-up bird to build: a body grown from a small average skeleton."""

import numpy as np
import pytest

from bonewright.body.grown import GrownBody, grow_body
from bonewright.body.plan import body_plan
from bonewright.study.settings import Animal, Choices, Settings, StudyHeader
from bonewright.workshop.figure_to_build import FigureToBuild
from bonewright.workshop.shaping import figure_of_body

MEDIANS_MM = {
    ("pelvis", "AA"): 92.0,
    ("pelvis", "SB"): 71.0,
    ("pelvis", "LV"): 171.0,
    ("sternum", "LM"): 94.0,
    ("sternum", "SBF"): 47.0,
    ("scapula", "GL"): 91.0,
    ("scapula", "Dic"): 16.0,
    ("skull", "GB"): 52.0,
    ("skull", "GL"): 148.0,
    ("skull", "GH"): 43.0,
    ("skull", "SBO"): 21.0,
    ("mandible", "GL"): 121.0,
    ("femur", "GL"): 164.0,
    ("femur", "Bp"): 45.0,
    ("femur", "Dp"): 35.0,
    ("femur", "SC"): 18.5,
    ("femur", "Bd"): 42.0,
    ("femur", "Dd"): 35.5,
    ("tibiotarsus", "GL"): 259.0,
    ("tibiotarsus", "Dip"): 48.0,
    ("tibiotarsus", "SC"): 16.0,
    ("tibiotarsus", "Bd"): 32.0,
    ("tibiotarsus", "Dd"): 30.5,
    ("tarsometatarsus", "GL"): 147.0,
    ("tarsometatarsus", "Bp"): 35.0,
    ("tarsometatarsus", "SC"): 18.5,
    ("tarsometatarsus", "Bd"): 37.0,
    ("humerus", "GL"): 98.0,
    ("ulna", "GL"): 71.0,
}
N_DRAWS = 2000


@pytest.fixture(scope="session")
def bird() -> GrownBody:
    rng = np.random.default_rng(11)
    bones = {
        key: mm * np.exp(0.01 * rng.standard_normal(N_DRAWS)) for key, mm in MEDIANS_MM.items()
    }
    return grow_body(
        body_plan((), ()),
        bone_draws_mm=bones,
        tissues=(),
        choices=Choices(),
        density_draws_kg_m3=950 + 50 * np.random.default_rng(5).standard_normal(N_DRAWS),
        rng=np.random.default_rng(6),
    )


@pytest.fixture(scope="session")
def settings() -> Settings:
    return Settings(
        study=StudyHeader(title="A bird to build", question="How large?", invented=True, format=1),
        animal=Animal(name="bird to build"),
    )


@pytest.fixture(scope="session")
def skeleton(bird: GrownBody, settings: Settings) -> FigureToBuild:
    return figure_of_body(bird, settings, scale_denominator=1, state="mean", layer="skeleton")


@pytest.fixture(scope="session")
def naked(bird: GrownBody, settings: Settings) -> FigureToBuild:
    return figure_of_body(bird, settings, scale_denominator=1, state="mean", layer="naked")


@pytest.fixture(scope="session")
def feathered(bird: GrownBody, settings: Settings) -> FigureToBuild:
    return figure_of_body(bird, settings, scale_denominator=1, state="mean", layer="feathered")
