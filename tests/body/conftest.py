"""A small average skeleton to grow bodies from."""

from collections.abc import Callable

import numpy as np
import pytest

from bonewright.body.grown import GrownBody, grow_body
from bonewright.body.plan import body_plan
from bonewright.study.settings import Choices

MEDIANS_MM = {
    ("pelvis", "AA"): 92.0,
    ("pelvis", "SB"): 71.0,
    ("pelvis", "LV"): 171.0,
    ("skull", "GB"): 52.0,
    ("skull", "GL"): 148.0,
    ("mandible", "GL"): 121.0,
    ("femur", "GL"): 164.0,
    ("tibiotarsus", "GL"): 259.0,
    ("tarsometatarsus", "GL"): 147.0,
    ("humerus", "GL"): 98.0,
    ("ulna", "GL"): 71.0,
}
N_DRAWS = 2000


@pytest.fixture(scope="session")
def bones() -> dict[tuple[str, str], np.ndarray]:
    rng = np.random.default_rng(11)
    return {key: mm * np.exp(0.01 * rng.standard_normal(N_DRAWS)) for key, mm in MEDIANS_MM.items()}


@pytest.fixture(scope="session")
def grow(bones: dict[tuple[str, str], np.ndarray]) -> Callable[..., GrownBody]:
    """Grow the plan's ground bird, perhaps from other bones or by other choices."""

    def grown(
        bone_draws_mm: dict[tuple[str, str], np.ndarray] | None = None, **choices: object
    ) -> GrownBody:
        used = bones if bone_draws_mm is None else bone_draws_mm
        n_draws = len(next(iter(used.values())))
        density = 950 + 50 * np.random.default_rng(5).standard_normal(n_draws)
        return grow_body(
            body_plan((), ()),
            bone_draws_mm=used,
            tissues=(),
            choices=Choices(**choices),  # type: ignore[arg-type]
            density_draws_kg_m3=density,
            rng=np.random.default_rng(6),
        )

    return grown


@pytest.fixture(scope="session")
def bird(grow: Callable[..., GrownBody]) -> GrownBody:
    return grow()
