"""The mend that a problem offers leads to the right place, in words of the trade."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from bonewright.errors import Problem
from bonewright.study.blank import new_study, settings_template
from bonewright.study.load import check_folder, load_study
from bonewright.study.remarks import remarks
from bonewright.study.spelling import equally_near, nearest, with_article

Tables = dict[str, list[list[str]]]
Writer = Callable[..., Path]
Damage = Callable[[str, str, str, str], tuple[Problem, ...]]

LIBRARY_WORDS = re.compile(
    r"self-intersection|shell\b|parsing|data source|newline|statement|valid (integer|number|string)"
    r"|input should|these values|greater than or equal|dictionary|taxon",
    re.IGNORECASE,
)


@pytest.mark.parametrize(
    ("text", "mend"),
    [
        ("17O.5", "A letter stands among the digits: write 170.5, if that is meant."),
        ("11O", "A letter stands among the digits: write 110, if that is meant."),
        ("l1", "A letter stands among the digits: write 11, if that is meant."),
        ("11 mm", "Write 11 here; 'mm' belongs in the unit column, if there is one."),
        ("11about", "Write 11 here, if that is meant, and 'about' in the remarks."),
        ("#DIV/0!", "Mend the formula in the spreadsheet, or write the value itself."),
    ],
)
def test_a_unit_is_offered_only_for_a_unit(damage: Damage, text: str, mend: str) -> None:
    (problem,) = damage("measurements", "m-1", "measurementValue", text)
    assert problem.mend == mend


@pytest.mark.parametrize("text", ["1:4", "1 : 4", "1/4"])
def test_a_scale_written_as_one_to_four_is_told_as_4(damage: Damage, text: str) -> None:
    problems = damage("bodies", "v-1", "scaleDenominator", text)
    assert problems[0].mend.startswith("Write 4,")


def test_a_missing_outline_suggests_no_file_that_another_row_names(
    study_folder: Path, tables: Tables, write_table: Writer
) -> None:
    rows = tables["sections"]
    rows.append([*rows[2]])
    rows[3][0], rows[3][10] = "sec-3", "rink.csv"
    write_table(study_folder, "sections", rows)
    (problem,) = check_folder(study_folder)
    assert "ring.csv" not in problem.mend
    (study_folder / "files" / "rinq.csv").write_text("ring,x,y\n")
    (problem,) = check_folder(study_folder)
    assert problem.mend == "Did you mean 'rinq.csv'?"


def test_of_several_names_equally_near_none_is_suggested() -> None:
    names = ["speciesa", "speciesc", "speciesh"]
    assert nearest("speciesb", names) is None
    assert sorted(equally_near("speciesb", names)) == names
    assert nearest("speciesb", ["speciesa", "other"]) == "speciesa"


def test_a_name_misspelled_as_near_to_two_others_is_not_guessed(damage: Damage) -> None:
    (problem,) = damage("measurements", "m-1", "materialEntityID", "bone-9")
    assert problem.mend == "Add the row to tables/specimens.csv, or mend the name."


@pytest.mark.parametrize(
    ("tree", "word"),
    [
        ("(Rallus_fictus:-1,Rallus_alius:1);", "branch"),
        ("(Rallus_fictus:nan,Rallus_alius:1);", "branch"),
        ("(Rallus_fictus:inf,Rallus_alius:1);", "branch"),
        ("(Gallus_unus:1,Gallus_alter:1);", "Gallus unus"),
        ("((a:1,b:1):1,c:2", "cannot be read"),
        ("((a:1,a:1):1,c:2);", "more than once"),
    ],
)
def test_a_tree_of_no_use_is_told_in_plain_words(study_folder: Path, tree: str, word: str) -> None:
    (study_folder / "files" / "relatives.nwk").write_text(tree)
    problems = check_folder(study_folder)
    assert any(word in problem.found for problem in problems)
    assert not any(LIBRARY_WORDS.search(problem.sentence()) for problem in problems)


@pytest.mark.parametrize(
    ("old", "new", "row", "found"),
    [
        ("0,0,12", "0,5,-3", None, "a ring that crosses or touches itself near"),
        ("1,7,8", "1,17,8", None, "a ring"),
        ("1,3,3\n1,7,3\n1,7,8\n1,3,8", "1,23,3\n1,27,3\n1,27,8\n1,23,8", 6, "a hole outside"),
    ],
)
def test_an_impossible_outline_is_told_with_place_row_and_section(
    study_folder: Path, old: str, new: str, row: int | None, found: str
) -> None:
    path = study_folder / "files" / "ring.csv"
    path.write_text(path.read_text().replace(old, new))
    (problem,) = check_folder(study_folder)
    assert problem.row is not None
    assert row is None or problem.row == row
    assert problem.found.startswith(found)
    assert "sec-2 (tables/sections.csv, row 3)" in problem.mend
    assert not LIBRARY_WORDS.search(problem.sentence())


@pytest.mark.parametrize(
    ("line", "word"),
    [
        ("count = 5", "a number of 500 or more"),
        ("count = 0,95", "Write 0.95 with a point."),
        ('count = "many"', "a whole number"),
        ("count = twenty", "Put the text in quotation marks."),
        ('count = "20', "straight quotation mark"),
        ("count = 600\ncount = 700", "each setting once"),
        ("count = 600\n[draws]", "each section once"),
        ("count = ", "after the equals sign"),
        ("count", "Put # before it"),
        ('[tree]\nfile = "C:\\wings"', "Write / for each"),
        ('[choices]\naverage = "mode"', "'arithmetic', 'geometric'"),
        ("[choices]\nbody_density = 1", "a section of its own"),
        (
            "[choices.body_density]\nvalue = 1\nlow = 2\nhigh = 3\nunit = 'kg/L'\nreason = 'r'",
            "found value 1, low 2, high 3",
        ),
    ],
)
def test_a_wrong_line_of_study_toml_is_told_without_library_words(
    tmp_path: Path, line: str, word: str
) -> None:
    text = '[study]\ntitle = "t"\nquestion = "q"\n[animal]\nname = "n"\n[draws]\n'
    (tmp_path / "study.toml").write_text(text + line + "\n", encoding="utf-8")
    (problem,) = check_folder(tmp_path)
    assert word in problem.sentence()
    assert not LIBRARY_WORDS.search(problem.sentence())
    assert problem.row is not None


def test_an_empty_cell_and_a_nameless_column_are_told_as_such(
    study_folder: Path, tables: Tables, write_table: Writer
) -> None:
    rows = tables["measurements"]
    rows[1][3] = ""
    write_table(
        study_folder, "measurements", [[*row, "x" if row[0] == "m-2" else ""] for row in rows]
    )
    column, cell = check_folder(study_folder)
    assert column.found == "a column without a name"
    assert cell.expected.startswith("a filled cell: value")


def test_a_bone_has_the_article_it_takes() -> None:
    assert with_article("ulna") == "an ulna"
    assert with_article("femur") == "a femur"


def test_a_missing_folder_and_a_file_for_a_folder_are_told(tmp_path: Path) -> None:
    (problem,) = check_folder(tmp_path / "NOSUCH")
    assert problem.file == str(tmp_path / "NOSUCH")
    assert problem.found == "no such folder"
    (tmp_path / "study.toml").write_text("")
    (problem,) = check_folder(tmp_path / "study.toml")
    assert str(tmp_path) in problem.mend


def test_bones_without_a_measurement_are_remarked_on(
    study_folder: Path, tables: Tables, write_table: Writer
) -> None:
    assert remarks(load_study(study_folder)) == ()
    write_table(study_folder, "measurements", tables["measurements"][:2])
    write_table(study_folder, "decisions", tables["decisions"][:1])
    (remark,) = remarks(load_study(study_folder))
    assert "bone-2 and bone-3" in remark


def test_a_new_study_says_what_to_begin_with(tmp_path: Path) -> None:
    new_study(tmp_path / "new")
    first = "To begin, these five tables: sources, specimens, measurements, relatives"
    assert first in (tmp_path / "new" / "GUIDE.md").read_text(encoding="utf-8")[:300]
    assert first in (tmp_path / "new" / "guide.html").read_text(encoding="utf-8")
    lines = settings_template("My study").splitlines()
    waiting = next(n for n, line in enumerate(lines) if "all can wait" in line)
    before = [line.split(" = ")[0] for line in lines[:waiting] if " = " in line]
    assert before[:2] == ["title", "question"]
    assert "name" in before
    assert "[draws]" in lines[waiting:]
