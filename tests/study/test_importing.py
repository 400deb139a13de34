"""Museums' spreadsheets in several languages, taken in without a question asked twice."""

import csv
import subprocess
import sys
from pathlib import Path

import pytest

from bonewright.errors import BonewrightError
from bonewright.study.blank import new_study
from bonewright.study.importing import import_plan, import_rows
from bonewright.study.load import check_folder, load_study
from bonewright.study.museum_words import code_of, element_of, role_of, value_of

GERMAN = """Inv.-Nr.;Sammlung;Knochen;Seite;Größte Länge (mm);Bp;KC;Umfang [cm];Fundort;Bemerkung
A 12;HARB;Oberschenkel;li;162,5;44,1;18,5;5,6;Höhle;poliert
A 13;HARB;Laufbein;rechts;146,0;ca. 35;>18;;Höhle;
A 13;HARB;Laufbein;rechts;146,2;;;;Höhle;zweite Messung
A 14;HARB;Schädel;;148;;;;;
"""


@pytest.fixture
def study(tmp_path: Path) -> Path:
    new_study(tmp_path / "study")
    return tmp_path / "study"


@pytest.fixture
def german(tmp_path: Path) -> Path:
    path = tmp_path / "messen.csv"
    path.write_bytes(GERMAN.encode("cp1252"))
    return path


def rows_of(folder: Path, table: str) -> list[dict[str, str]]:
    text = (folder / "tables" / f"{table}.csv").read_text(encoding="utf-8-sig")
    return list(csv.DictReader(text.splitlines()))


@pytest.mark.parametrize(
    ("words", "element"),
    [
        ("Oberschenkel", "femur"),
        ("fémur", "femur"),
        ("Schädel", "skull"),
        ("crâne", "skull"),
        ("húmero", "humerus"),
        ("dijbeen", "femur"),
        ("TMT", "tarsometatarsus"),
        ("Humerus sin., distal", "humerus"),
        ("box 7", None),
        ("femur or tibiotarsus", None),
    ],
)
def test_bones_are_known_by_their_names_in_several_languages(words: str, element) -> None:
    assert element_of(words) == element


def test_headers_and_words_are_known_in_several_languages() -> None:
    assert [role_of(word) for word in ("Katalognummer", "Côté", "Geschlecht", "Observaciones")] == [
        "catalogNumber",
        "side",
        "sex",
        "materialEntityRemarks",
    ]
    assert [value_of("side", word) for word in ("li", "droit", "izquierdo", "rechts")] == [
        "left",
        "right",
        "left",
        "right",
    ]
    assert code_of("longueur maximale", None) == "GL"
    assert (code_of("lm", "femur"), code_of("lm", "sternum")) == ("Lm", "LM")


def test_a_german_sheet_becomes_bones_and_measurements(study: Path, german: Path) -> None:
    import_rows(study, import_plan(study, german))
    assert check_folder(study) == ()
    loaded = load_study(study)
    assert [(b.element, b.side) for b in loaded.specimens] == [
        ("femur", "left"),
        ("tarsometatarsus", "right"),
        ("skull", "midline"),
    ]
    femur = {m.code: m.value_mm for m in loaded.measurements if "femur" in m.specimen_id}
    assert femur == pytest.approx({"GL": 162.5, "Bp": 44.1, "SC": 18.5, "CD": 56.0})
    repeats = [m.value_mm for m in loaded.measurements if "tarso" in m.specimen_id]
    assert repeats == [146.0, 146.2]


def test_no_filled_cell_is_lost(study: Path, german: Path) -> None:
    import_rows(study, import_plan(study, german))
    stored = " ".join(
        " ".join(row.values())
        for name in ("specimens", "measurements")
        for row in rows_of(study, name)
    )
    for line in GERMAN.splitlines()[1:]:
        for cell in line.split(";"):
            words = {"li": "left", "rechts": "right"}.get(cell, cell)
            assert words in stored or words.replace(",", ".") in stored, cell


def test_importing_twice_changes_nothing(study: Path, german: Path) -> None:
    import_rows(study, import_plan(study, german))
    before = {path: path.read_bytes() for path in study.rglob("*") if path.is_file()}
    merged, _ = import_rows(study, import_plan(study, german))
    assert not any(merged.added.values())
    assert merged.differing == []
    assert {path: path.read_bytes() for path in study.rglob("*") if path.is_file()} == before


def test_what_the_study_says_is_not_written_over(study: Path, german: Path) -> None:
    import_rows(study, import_plan(study, german))
    german.write_bytes(GERMAN.replace("162,5", "126,5").encode("cp1252"))
    merged, _ = import_rows(study, import_plan(study, german))
    (line,) = merged.differing
    assert "162.5 here, 126.5 in the import" in line
    assert rows_of(study, "measurements")[0]["measurementValue"] == "162.5"


def test_what_was_told_of_a_header_is_remembered_for_the_next_sheet(
    study: Path, tmp_path: Path
) -> None:
    first, second = tmp_path / "one.csv", tmp_path / "two.csv"
    first.write_text("number,drawer,Q\n1,A,162\n", encoding="utf-8")
    second.write_text("number,drawer,Q\n2,B,163\n", encoding="utf-8")
    told = {"Q": "code GL", "drawer": "organismID"}
    import_rows(study, import_plan(study, first, told=told, element="femur"))
    import_rows(study, import_plan(study, second, element="femur"))
    assert [row["measurementType"] for row in rows_of(study, "measurements")] == ["GL", "GL"]
    assert [row["organismID"] for row in rows_of(study, "specimens")] == ["A", "B"]


def test_a_row_an_animal_with_bones_in_the_headers_becomes_a_bone_each(
    study: Path, tmp_path: Path
) -> None:
    sheet = tmp_path / "skeletons.csv"
    sheet.write_text(
        "skeleton,museum,cat no,fem GL,TMT_GL (cm),skull GL\nS1,HARB,9,160,14.5,\n",
        encoding="utf-8",
    )
    import_rows(study, import_plan(study, sheet))
    assert check_folder(study) == ()
    loaded = load_study(study)
    assert {(m.specimen_id.split("-")[2], m.value_mm) for m in loaded.measurements} == {
        ("femur", 160.0),
        ("tarsometatarsus", 145.0),
    }
    assert {bone.individual_id for bone in loaded.specimens} == {"S1"}


def test_a_sheet_that_does_not_say_its_bones_is_refused_with_a_remedy(
    study: Path, tmp_path: Path
) -> None:
    sheet = tmp_path / "list.csv"
    sheet.write_text("no,GL\n1,160\n", encoding="utf-8")
    plan = import_plan(study, sheet)
    assert plan.needs_element()
    with pytest.raises(BonewrightError):
        import_rows(study, plan)
    assert rows_of(study, "specimens") == []


@pytest.mark.parametrize("told", [{"GL": "code Gl9"}, {"GL": "shelf"}])
def test_a_meaning_that_is_none_is_refused(study: Path, german: Path, told) -> None:
    with pytest.raises(BonewrightError):
        import_plan(study, german, told=told)


def test_the_command_shows_the_mapping_before_it_writes(study: Path, german: Path) -> None:
    command = [
        Path(sys.executable).with_name("bonewright"),
        "import",
        str(study),
        str(german),
        "--only-show",
    ]
    shown = subprocess.run(command, check=True, capture_output=True, text=True).stdout  # noqa: S603
    assert "Umfang [cm] -> code CD cm" in shown
    assert rows_of(study, "specimens") == []
