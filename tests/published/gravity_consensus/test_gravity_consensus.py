import tomllib
from pathlib import Path

import numpy as np
import pytest

from bonewright.judgement.heterogeneity import birge_ratio, cochran_q, generalised_mean
from bonewright.judgement.meta_analysis import birge_interval

SOURCE = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))
VALUES = np.array([float(value) for value in SOURCE["values"]])
COVARIANCE = np.diag([float(sd) ** 2 for sd in SOURCE["uncertainties"]])


def test_eleven_laboratories_disagree_by_the_printed_birge_ratio() -> None:
    ratio = birge_ratio(cochran_q(VALUES, COVARIANCE), len(VALUES))
    assert ratio == pytest.approx(float(SOURCE["birge_ratio"]), abs=0.005)


def test_their_weighted_mean_is_the_printed_one_and_its_error_grows_by_the_ratio() -> None:
    mean, variance, _ = generalised_mean(VALUES, COVARIANCE)
    assert mean == pytest.approx(
        float(SOURCE["weighted_mean"]), abs=SOURCE["weighted_mean_tolerance"]
    )
    low, high = birge_interval(VALUES, COVARIANCE)
    ratio = birge_ratio(cochran_q(VALUES, COVARIANCE), len(VALUES))
    assert high - low == pytest.approx(2 * 1.959964 * ratio * variance**0.5, rel=1e-6)
