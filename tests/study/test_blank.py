import json
import re
import tomllib
from pathlib import Path

import pytest

from bonewright.errors import BonewrightError
from bonewright.study.blank import new_study, settings_template
from bonewright.study.document import columns_markdown, measuring_files
from bonewright.study.load import check_folder, load_study
from bonewright.study.schemas import TABLES
from bonewright.study.settings import Settings
from bonewright.study.workshop_document import workshop_markdown

REPOSITORY = Path(__file__).parents[2]


def test_a_blank_study_has_every_part_and_no_problem(tmp_path: Path) -> None:
    folder = tmp_path / "new" / "study"
    new_study(folder, title="The great rail")
    assert check_folder(folder) == ()
    assert load_study(folder).settings.study.title == "The great rail"
    for table in TABLES:
        header = (folder / "tables" / f"{table.name}.csv").read_bytes().decode("utf-8-sig")
        assert header.strip().split(",") == [column.name for column in table.columns]
    assert (folder / "files").is_dir()
    names = {
        resource["name"]
        for resource in json.loads((folder / "datapackage.json").read_text())["resources"]
    }
    assert names == {table.name for table in TABLES}


def test_the_settings_of_a_blank_study_are_the_defaults() -> None:
    settings = Settings.model_validate(tomllib.loads(settings_template('A "title"\\')))
    assert settings.study.title == 'A "title"\\'
    plain = Settings.model_validate(
        {"study": settings.study.model_dump(), "animal": settings.animal.model_dump()}
    )
    assert settings == plain


def test_every_setting_stands_in_a_blank_study_with_what_it_means() -> None:
    text = settings_template("My study")
    for section in Settings.model_fields.values():
        for option in (section.annotation, *getattr(section.annotation, "__args__", ())):
            for name, field in getattr(option, "model_fields", {}).items():
                assert re.search(rf"^(# )?({name} = |\[choices\.{name}\])", text, re.MULTILINE), (
                    name
                )
                assert field.description
                assert field.description in text, name


def test_the_commented_sections_work_once_the_marks_are_taken_away() -> None:
    lines = settings_template("My study").splitlines()
    opened = [re.sub(r"^# (?=\[|\w+ = )", "", line) for line in lines]
    settings = Settings.model_validate(tomllib.loads("\n".join(opened)))
    assert settings.witness is not None
    assert settings.tree is not None
    assert settings.blind_proof is not None


def test_a_folder_with_anything_in_it_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine")
    with pytest.raises(BonewrightError):
        new_study(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]
    with pytest.raises(BonewrightError):
        new_study(tmp_path / "mine.txt")
    with pytest.raises(BonewrightError):
        new_study(tmp_path / "new", title="  ")


def test_an_empty_folder_is_used(tmp_path: Path) -> None:
    new_study(tmp_path)
    assert check_folder(tmp_path) == ()


def test_the_guide_names_every_column_and_needs_nothing_from_outside(tmp_path: Path) -> None:
    new_study(tmp_path, title="<b>A & B</b>")
    page = (tmp_path / "guide.html").read_text(encoding="utf-8")
    text = (tmp_path / "GUIDE.md").read_text(encoding="utf-8")
    for table in TABLES:
        for column in table.columns:
            assert f"<td>{column.name}</td>" in page
            assert f"| {column.name} |" in text
    assert "<b>A" not in page
    assert not re.search(r"(src|href)=\"(?!#)", page)
    assert "url(" not in page


def test_the_page_of_columns_is_the_one_in_the_documentation() -> None:
    page = REPOSITORY / "docs" / "columns.md"
    assert page.read_text(encoding="utf-8") == columns_markdown(), (
        "write columns_markdown() to docs/columns.md"
    )


def test_the_page_on_the_workshops_own_rows_is_up_to_date() -> None:
    page = Path(__file__).resolve().parents[2] / "docs/workshop-defaults.md"
    assert page.read_text(encoding="utf-8") == workshop_markdown(), "run tools/write_docs.py"


def test_the_page_of_measuring_and_its_drawings_are_those_in_the_documentation() -> None:
    for name, text in measuring_files().items():
        path = REPOSITORY / "docs" / name
        assert path.read_text(encoding="utf-8") == text, "run tools/write_docs.py"
