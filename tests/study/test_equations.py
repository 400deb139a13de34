from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from bonewright.relatives.describing import published_finding
from bonewright.relatives.published_equations import equation_mass_kg
from bonewright.study.equations import shipped_equations
from bonewright.study.load import check_folder, load_study

HEADER = (
    "equationID,animals,element,measurementType,logarithm,intercept,slope,massUnit,lengthUnit,"
    "measurementFactor,standardError,individualCount,rangeLow,rangeHigh,sourceID\n"
)
ROW = "own-1,ground birds,femur,CD,10,-0.5,2.4,kg,cm,,0.06,30,0.8,9.5,\n"


def add(folder: Path, text: str) -> None:
    (folder / "tables" / "equations.csv").write_text(HEADER + text, encoding="utf-8")


def test_an_equation_of_the_study_is_turned_into_kilograms_and_millimetres(
    study_folder: Path,
) -> None:
    add(study_folder, ROW)
    (equation,) = load_study(study_folder).equations
    (mass_kg,) = equation_mass_kg(equation, np.array([40.0]))
    assert mass_kg == pytest.approx(10 ** (-0.5 + 2.4 * np.log10(4.0)))
    assert (equation.range_low_mm, equation.range_high_mm) == (8.0, 95.0)
    assert equation.standard_error_ln == pytest.approx(0.06 * np.log(10))


def test_natural_and_common_logarithms_of_one_equation_give_one_mass(study_folder: Path) -> None:
    natural = ROW.replace("own-1", "own-2").replace(
        ",10,-0.5,", f",e,{float(-0.5 * np.log(10))!r},"
    )
    add(study_folder, ROW + natural)
    one, other = load_study(study_folder).equations
    bone = np.array([20.0, 60.0])
    assert equation_mass_kg(one, bone) == pytest.approx(equation_mass_kg(other, bone))


@pytest.mark.parametrize(
    ("old", "new", "column"),
    [
        (",-0.5,2.4", ",-9.5,2.4", "intercept"),
        (",2.4,", ",24,", "slope"),
        (",10,-0.5", ",2,-0.5", "logarithm"),
        (",kg,", ",lb,", "massUnit"),
        ("0.8,9.5", "9.5,0.8", "rangeHigh"),
        ("femur", "femr", "element"),
    ],
)
def test_a_wrong_equation_is_named(study_folder: Path, old: str, new: str, column: str) -> None:
    add(study_folder, ROW.replace(old, new, 1))
    assert [(p.file, p.column) for p in check_folder(study_folder)] == [
        ("tables/equations.csv", column)
    ]


def test_published_scatter_widens_the_mass_and_leaves_its_middle() -> None:
    equation = replace(shipped_equations()[0], standard_error_ln=0.2)
    bone = np.full(20_000, 40.0)
    (line,) = equation_mass_kg(equation, bone[:1])
    drawn = equation_mass_kg(equation, bone, rng=np.random.default_rng(1))
    assert np.std(np.log(drawn)) == pytest.approx(0.2, rel=0.03)
    assert np.median(drawn) == pytest.approx(line, rel=0.01)


@pytest.mark.parametrize(
    ("bone_mm", "code"),
    [(120.0, "outside published range"), (4.0, "outside published range"), (40.0, "")],
)
def test_use_out_of_the_published_range_is_flagged(bone_mm: float, code: str) -> None:
    equation = replace(
        shipped_equations()[0], range_low_mm=8.0, range_high_mm=95.0, standard_error_ln=0.1
    )
    draws = equation_mass_kg(equation, np.full(100, bone_mm))
    codes = [c.code for c in published_finding(equation, draws, bone_mm=bone_mm).caveats]
    assert codes == ["coefficients not confirmed", *([code] if code else [])]


def test_an_unknown_published_range_is_said() -> None:
    equation = shipped_equations()[0]
    finding = published_finding(equation, np.full(10, 3.0), bone_mm=40.0)
    assert "range not known" in [caveat.code for caveat in finding.caveats]
