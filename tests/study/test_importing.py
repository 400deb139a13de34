"""Museums' spreadsheets in several languages, taken in without a question asked twice."""

import csv
import os
import subprocess
import sys
from pathlib import Path

import pytest

from bonewright.errors import BonewrightError
from bonewright.study.blank import new_study
from bonewright.study.importing import import_plan, import_preview, import_rows
from bonewright.study.load import check_folder, load_study
from bonewright.study.museum_words import code_of, element_of, role_of, value_of
from bonewright.study.sheet_files import read_sheets

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


def command(*arguments: object) -> list[str]:
    return [str(Path(sys.executable).with_name("bonewright")), *map(str, arguments)]


def test_the_command_shows_the_mapping_before_it_writes(study: Path, german: Path) -> None:
    done = subprocess.run(  # noqa: S603 (ours)
        command("import", study, german, "--only-show"), check=True, capture_output=True, text=True
    )
    assert "Umfang [cm] -> code CD cm" in done.stdout
    assert "measurements: 7 rows would be added" in done.stdout
    assert rows_of(study, "specimens") == []


@pytest.fixture
def puzzling(tmp_path: Path) -> Path:
    path = tmp_path / "puzzling.csv"
    path.write_text("number,bone,Q,box,empty\n1,femur,162,A,\n2,femur,163,B,\n", encoding="utf-8")
    return path


def test_headers_that_nothing_explains_are_listed_with_their_first_cells(
    study: Path, puzzling: Path
) -> None:
    unsettled = import_plan(study, puzzling).unsettled()
    assert {one.header: one.samples for one in unsettled} == {
        "Q": ("162", "163"),
        "box": ("A", "B"),
    }


def test_without_a_person_to_ask_an_unknown_header_stops_the_import_before_it_writes(
    study: Path, puzzling: Path
) -> None:
    done = subprocess.run(  # noqa: S603 (ours)
        command("import", study, puzzling),
        check=False,
        capture_output=True,
        text=True,
        stdin=subprocess.DEVNULL,
    )
    assert done.returncode == 1
    assert "'Q' (162, 163)" in done.stderr
    assert rows_of(study, "specimens") == []


def test_a_person_is_asked_once_for_each_unknown_header(study: Path, puzzling: Path) -> None:
    ours, theirs = os.openpty()
    os.write(ours, b"code Gl9\ncode GL\nremarks\n")  # the first answer is no code
    asked = subprocess.run(  # noqa: S603 (ours)
        command("import", study, puzzling), check=True, capture_output=True, text=True, stdin=theirs
    )
    os.close(ours)
    os.close(theirs)
    assert "there is no code Gl9" in asked.stdout
    assert [row["measurementType"] for row in rows_of(study, "measurements")] == ["GL", "GL"]
    assert "box: A" in rows_of(study, "specimens")[0]["materialEntityRemarks"]
    assert import_plan(study, puzzling).unsettled() == ()


def test_a_mapping_of_another_study_settles_headers_and_is_kept(
    study: Path, puzzling: Path, tmp_path: Path
) -> None:
    other = tmp_path / "mapping.toml"
    other.write_text("[headers]\nQ = 'code GL'\nbox = 'organismID'\n", encoding="utf-8")
    plan = import_plan(study, puzzling, mapping=other)
    assert plan.unsettled() == ()
    import_rows(study, plan)
    assert [row["organismID"] for row in rows_of(study, "specimens")] == ["A", "B"]
    assert import_plan(study, puzzling).told == {"Q": "code GL", "box": "organismID"}


@pytest.mark.parametrize("text", ["[headers", "[headers]\nQ = 3\n", "headers = ['Q']\n"])
def test_a_mapping_that_maps_nothing_is_refused(study, puzzling, tmp_path, text: str) -> None:
    other = tmp_path / "mapping.toml"
    other.write_text(text, encoding="utf-8")
    with pytest.raises(BonewrightError):
        import_plan(study, puzzling, mapping=other)


def test_a_column_headed_bone_is_told_by_what_it_holds(study: Path, tmp_path: Path) -> None:
    kinds, names = tmp_path / "kinds.csv", tmp_path / "names.csv"
    kinds.write_text("bone,GL\nleft femur,162\nskull,148\n?,3\n", encoding="utf-8")
    names.write_text("bone,element,GL\nA-1,femur,162\nA-2,skull,148\n", encoding="utf-8")
    told = [import_plan(study, path).sheets[0].meanings[0].column for path in (kinds, names)]
    assert told == ["element", "materialEntityID"]


def test_a_preview_tells_rows_and_problems_and_writes_nothing(study: Path, puzzling: Path) -> None:
    text = puzzling.read_text(encoding="utf-8").replace("163", "16300000")
    puzzling.write_text(text, encoding="utf-8")
    before = {path: path.read_bytes() for path in study.rglob("*") if path.is_file()}
    preview = import_preview(study, import_plan(study, puzzling, told={"Q": "code GL"}))
    assert preview.merged.added == {"sources": 1, "specimens": 2, "measurements": 2}
    assert [problem.column for problem in preview.problems] == ["measurementValue"]
    assert {path: path.read_bytes() for path in study.rglob("*") if path.is_file()} == before


@pytest.mark.parametrize("text", ["a,b\n1,2" + "," * 300_000, "a,b\n" + "1,2\n" * 9 + "," * 90_000])
def test_a_row_wider_than_any_spreadsheet_is_named_and_not_made_a_grid(
    tmp_path: Path, text: str
) -> None:
    path = tmp_path / "wide.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BonewrightError) as refused:
        read_sheets(path)
    assert "too wide" in refused.value.message
    assert "16,384" in refused.value.remedy


def test_sixteen_thousand_columns_of_one_name_get_names_of_their_own_at_once(
    tmp_path: Path,
) -> None:
    path = tmp_path / "many.csv"
    path.write_text("GL" + ",GL" * 16_000 + "\n1" + ",1" * 16_000 + "\n", encoding="utf-8")
    (sheet,) = read_sheets(path)
    assert len(set(sheet.header)) == 16_001
