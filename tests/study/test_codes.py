"""Codes of the list, of the study's own, and the drawings that show where they are taken."""

import xml.etree.ElementTree as ET
from collections.abc import Callable
from pathlib import Path

import pytest

from bonewright.study.bone_codes import CODES_OF_ELEMENT, ELEMENTS, MEASUREMENT_CODES
from bonewright.study.bone_drawings import bone_drawing
from bonewright.study.bone_outlines import VIEWS
from bonewright.study.load import check_folder, load_study

Tables = dict[str, list[list[str]]]
Write = Callable[..., Path]


def test_every_code_is_taken_on_some_bone_and_every_bone_has_a_length() -> None:
    assert {code for codes in CODES_OF_ELEMENT.values() for code in codes} == set(MEASUREMENT_CODES)
    assert set(CODES_OF_ELEMENT) == set(ELEMENTS)
    assert all(set(codes) & {"GL", "LM"} for codes in CODES_OF_ELEMENT.values())


@pytest.mark.parametrize("element", ELEMENTS)
def test_a_drawing_shows_only_codes_of_its_bone_and_is_sound_svg(element: str) -> None:
    drawn = {mark.code for view in VIEWS[element] for mark in view.marks}
    assert drawn <= set(CODES_OF_ELEMENT[element])
    assert len(drawn) >= 2
    root = ET.fromstring(bone_drawing(element))  # noqa: S314 - our own text
    labels = {node.text for node in root.iter() if node.tag.endswith("text")}
    assert drawn <= labels


@pytest.mark.parametrize("element", ELEMENTS)
def test_every_opening_of_the_callipers_lies_inside_its_drawing(element: str) -> None:
    for view in VIEWS[element]:
        for mark in view.marks:
            for x, y in (mark.start, mark.end):
                assert -2 <= x <= view.width + 10
                assert -6 <= y <= view.height + 2


CODES = [
    ["codeID", "measurementType", "element", "measurementMeaning"],
    ["code-1", "Lt", "femur", "length to the trochanter"],
    ["code-2", "Q7", "", "seventh width"],
]


def with_codes(folder: Path, tables: Tables, write: Write, *, first: str = "GL") -> Path:
    """Add the table of codes, and give the first measurement (of a femur) another code."""
    write(folder, "codes", CODES)
    tables["measurements"][1][2] = first
    write(folder, "measurements", tables["measurements"])
    return folder


@pytest.mark.parametrize("code", ["GL", "Lt", "Q7", "Bm"])
def test_a_code_that_fits_its_bone_or_is_the_studys_own_is_taken(
    study_folder: Path, tables: Tables, write_table: Write, code: str
) -> None:
    assert check_folder(with_codes(study_folder, tables, write_table, first=code)) == ()


@pytest.mark.parametrize("code", ["LM", "AA", "L", "Xx"])
def test_a_code_that_does_not_fit_its_bone_is_a_problem_with_a_mend(
    study_folder: Path, tables: Tables, write_table: Write, code: str
) -> None:
    (problem,) = check_folder(with_codes(study_folder, tables, write_table, first=code))
    assert (problem.row, problem.column) == (2, "measurementType")
    assert problem.mend


def test_a_studys_own_code_is_loaded_with_its_meaning(
    study_folder: Path, tables: Tables, write_table: Write
) -> None:
    study = load_study(with_codes(study_folder, tables, write_table, first="Lt"))
    assert [(row.code, row.element, row.meaning) for row in study.codes] == [
        ("Lt", "femur", "length to the trochanter"),
        ("Q7", None, "seventh width"),
    ]
    assert study.measurements[0].code == "Lt"


@pytest.mark.parametrize(
    ("code", "element"), [("two words", "femur"), ("GL", ""), ("Lt", "femur"), ("1x", "")]
)
def test_a_code_that_is_no_code_or_stands_twice_is_a_problem(
    study_folder: Path, write_table: Write, code: str, element: str
) -> None:
    write_table(study_folder, "codes", [*CODES, ["code-3", code, element, "twice"]])
    (problem,) = check_folder(study_folder)
    assert (problem.file, problem.row) == ("tables/codes.csv", 4)
