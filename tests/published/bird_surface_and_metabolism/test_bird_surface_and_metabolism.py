import tomllib
from pathlib import Path

import numpy as np
import pytest

from bonewright.body.condition import FASTING_RATES
from bonewright.body.published_laws import skin_area_m2

SOURCE = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))
RATES = {rate.source: rate for rate in FASTING_RATES}
KJ_PER_KCAL = 4.184


def test_skin_of_a_bird_has_the_published_area() -> None:
    skin = SOURCE["skin"]
    (area,) = skin_area_m2(np.array([float(skin["mass_g"]) / 1000]))
    assert area * 1e4 == pytest.approx(float(skin["area_cm2"]), abs=0.5)


def test_skin_is_larger_than_the_plumage_by_the_published_percentage() -> None:
    plumage = SOURCE["plumage_surface"]
    (skin,) = skin_area_m2(np.array([float(plumage["mass_g"]) / 1000]))
    larger = 100 * (skin * 1e4 / float(plumage["area_cm2"]) - 1)
    assert larger == pytest.approx(float(plumage["skin_larger_percent"]), abs=0.5)


@pytest.mark.parametrize(
    ("table", "source"),
    [("lasiewski_dawson_1967", "LasiewskiDawson1967"), ("aschoff_pohl_1970", "AschoffPohl1970")],
)
def test_basal_rate_in_kcal_a_day_is_that_of_the_law(table: str, source: str) -> None:
    law = SOURCE[table]
    (rate,) = RATES[source].basal_kj_per_day(np.array([float(law["mass_kg"])]))
    assert rate / KJ_PER_KCAL == pytest.approx(float(law["kcal_per_day"]), abs=0.05)


def test_basal_rate_in_kj_an_hour_is_that_of_the_law() -> None:
    law = SOURCE["mcnab_2009"]
    (rate,) = RATES["McNab2009"].basal_kj_per_day(np.array([float(law["mass_kg"])]))
    assert rate / 24 == pytest.approx(float(law["kj_per_hour"]), abs=0.005)
