import datetime
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P

from bonewright.study.csv_file import parse_csv
from bonewright.study.load import check_folder, load_study
from bonewright.study.model import Study
from bonewright.study.read import read_tables

Tables = dict[str, list[list[str]]]
Writer = Callable[..., Path]


def decimal_comma(cell: str) -> str:
    return cell.replace(".", ",") if cell.replace(".", "").isdigit() else cell


def rows_of(study: Study) -> tuple[object, ...]:
    return (
        study.sources,
        study.specimens,
        study.measurements,
        study.relatives,
        study.relative_measurements,
        study.sections,
        study.bodies,
        study.pictures,
        study.picture_marks,
        study.accounts,
        study.claims,
        study.mount_measurements,
        study.decisions,
    )


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig"])
@pytest.mark.parametrize("comma", [False, True])
def test_every_dialect_of_csv_reads_as_the_same_study(
    study_folder: Path,
    tables: Tables,
    write_table: Writer,
    delimiter: str,
    encoding: str,
    comma: bool,
) -> None:
    plain = load_study(study_folder)
    for name, rows in tables.items():
        if comma:
            rows[1:] = [[decimal_comma(cell) for cell in row] for row in rows[1:]]
        write_table(study_folder, name, rows, delimiter=delimiter, encoding=encoding)
    assert rows_of(load_study(study_folder)) == rows_of(plain)


def test_a_file_with_windows_line_ends_reads_the_same(study_folder: Path) -> None:
    plain = load_study(study_folder)
    for path in (study_folder / "tables").iterdir():
        path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    assert rows_of(load_study(study_folder)) == rows_of(plain)
    assert read_tables(study_folder)["bodies"].dialect.line_ending == "\r\n"


def as_typed(cell: str) -> object:
    try:
        return float(cell)
    except ValueError:
        return cell or None


def move_to_xlsx(folder: Path, tables: Tables) -> None:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in tables.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append([as_typed(cell) for cell in row])
        (folder / "tables" / f"{name}.csv").unlink()
    book.save(folder / "tables" / "everything.xlsx")


def move_to_ods(folder: Path, tables: Tables) -> None:
    book = OpenDocumentSpreadsheet()
    for name, rows in tables.items():
        sheet = Table(name=name)
        for row in rows:
            line = TableRow()
            for cell in row:
                value = as_typed(cell)
                if isinstance(value, float):
                    typed = TableCell(valuetype="float", value=value)
                else:
                    typed = TableCell(valuetype="string")
                if cell:
                    typed.addElement(P(text=cell))
                line.addElement(typed)
            sheet.addElement(line)
        book.spreadsheet.addElement(sheet)
        (folder / "tables" / f"{name}.csv").unlink()
    book.save(str(folder / "tables" / "everything.ods"))


@pytest.mark.parametrize("move", [move_to_xlsx, move_to_ods])
def test_a_workbook_reads_as_the_same_study(
    study_folder: Path, tables: Tables, move: Callable[[Path, Tables], None]
) -> None:
    plain = load_study(study_folder)
    move(study_folder, tables)
    assert check_folder(study_folder) == ()
    assert rows_of(load_study(study_folder)) == rows_of(plain)


def test_a_date_in_a_workbook_is_read_as_year_month_day(study_folder: Path) -> None:
    (study_folder / "tables" / "accounts.csv").unlink()
    (study_folder / "tables" / "claims.csv").unlink()
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "accounts"
    sheet.append(["accountID", "title", "eventDate", "standing"])
    sheet.append(["acc-1", "A letter", datetime.date(1950, 3, 14), "eyewitness"])
    book.create_sheet("notes to myself").append(["anything"])
    book.save(study_folder / "tables" / "late.xlsx")
    assert read_tables(study_folder)["accounts"].rows[0][2] == "1950-03-14"
    assert [p.column for p in check_folder(study_folder)] == ["eventDate"]


def test_a_table_in_two_places_is_a_problem(study_folder: Path, tables: Tables) -> None:
    book = openpyxl.Workbook()
    book.active.title = "bodies"
    for row in tables["bodies"]:
        book.active.append(row)
    book.save(study_folder / "tables" / "more.xlsx")
    (problem,) = check_folder(study_folder)
    assert problem.file == "tables/more.xlsx"
    assert "tables/bodies.csv" in problem.expected


def test_a_workbook_beside_the_tables_it_holds_is_one_problem_in_all(
    study_folder: Path, tables: Tables
) -> None:
    before = {path: path.read_bytes() for path in (study_folder / "tables").iterdir()}
    move_to_xlsx(study_folder, tables)
    for path, content in before.items():
        path.write_bytes(content)
    (problem,) = check_folder(study_folder)
    assert problem.file == "tables/everything.xlsx"
    assert "specimens" in problem.found


def test_tables_without_rows_give_way_to_the_workbook(study_folder: Path, tables: Tables) -> None:
    plain = load_study(study_folder)
    move_to_xlsx(study_folder, tables)
    for name, rows in tables.items():
        (study_folder / "tables" / f"{name}.csv").write_text(",".join(rows[0]) + "\n")
    assert check_folder(study_folder) == ()
    assert rows_of(load_study(study_folder)) == rows_of(plain)


def test_a_sheet_with_content_that_is_no_table_is_a_problem(study_folder: Path) -> None:
    book = openpyxl.Workbook()
    book.active.title = "picturs"
    book.active.append(["pictureID"])
    book.save(study_folder / "tables" / "more.xlsx")
    (problem,) = check_folder(study_folder)
    assert "pictures" in problem.mend


def test_a_damaged_workbook_is_a_problem(study_folder: Path) -> None:
    (study_folder / "tables" / "more.xlsx").write_bytes(b"PK not a workbook")
    (problem,) = check_folder(study_folder)
    assert problem.file == "tables/more.xlsx"


def test_a_missing_table_is_empty(study_folder: Path) -> None:
    for name in ("bodies", "decisions"):
        (study_folder / "tables" / f"{name}.csv").unlink()
    assert check_folder(study_folder) == ()
    assert load_study(study_folder).bodies == ()


@pytest.mark.parametrize("content", [b"", b"\xef\xbb\xbf", b"\n\n"])
def test_a_file_without_even_a_header_is_a_problem(study_folder: Path, content: bytes) -> None:
    (study_folder / "tables" / "measurements.csv").write_bytes(content)
    (problem,) = check_folder(study_folder)
    assert problem.file == "tables/measurements.csv"
    assert "header row" in problem.expected


def test_a_table_beside_the_folder_tables_is_a_problem(study_folder: Path) -> None:
    path = study_folder / "tables" / "measurements.csv"
    path.rename(study_folder / "measurements.csv")
    problems = check_folder(study_folder)
    assert "tables/measurements.csv" in problems[0].expected
    assert problems[0].file == "measurements.csv"


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_a_title_above_the_header_is_one_problem(
    study_folder: Path, tables: Tables, write_table: Writer, delimiter: str
) -> None:
    rows = [["Our bones, 2026"], [""], *tables["measurements"]]
    write_table(study_folder, "measurements", rows, delimiter=delimiter)
    (problem,) = check_folder(study_folder)
    assert (problem.file, problem.row) == ("tables/measurements.csv", 1)
    assert problem.mend == "Delete rows 1 to 2."


def test_a_title_above_the_header_of_a_sheet_is_one_problem(
    study_folder: Path, tables: Tables
) -> None:
    tables["measurements"].insert(0, ["Our bones"])
    move_to_xlsx(study_folder, tables)
    (problem,) = check_folder(study_folder)
    assert problem.mend == "Delete row 1."


def test_failed_and_uncomputed_formulas_of_a_workbook_are_told(study_folder: Path) -> None:
    (study_folder / "tables" / "measurements.csv").unlink()
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "measurements"
    columns = "measurementID materialEntityID measurementType measurementValue measurementUnit"
    sheet.append([*columns.split(), "measurementAccuracy"])
    sheet.append(["m-1", "bone-1", "GL", "=170+0.5", "mm"])
    sheet.append(["m-3", "bone-3", "LM", 98.25, "mm", None])
    sheet["F3"].value = "#DIV/0!"
    sheet["F3"].data_type = "e"
    book.save(study_folder / "tables" / "bones.xlsx")
    problems = check_folder(study_folder)
    assert [(p.row, p.column, p.found) for p in problems] == [
        (2, "measurementValue", "'=170+0.5'"),
        (3, "measurementAccuracy", "'#DIV/0!'"),
    ]
    assert all("formula" in problem.expected for problem in problems)


@pytest.fixture
def closed_study(study_folder: Path) -> Iterator[Path]:
    """Give a study whose reader is not allowed everything, even where tests run as root."""
    with tempfile.TemporaryDirectory() as made:
        Path(made).chmod(0o755)
        folder = Path(made) / "study"
        shutil.copytree(study_folder, folder)
        check_folder(folder)  # imports what it needs while everything can be read
        is_root = os.geteuid() == 0
        if is_root:
            os.seteuid(65534)
        try:
            yield folder
        finally:
            if is_root:
                os.seteuid(0)


@pytest.mark.skipif(os.name == "nt", reason="permissions are set in another way there")
@pytest.mark.parametrize(
    "name",
    ["study.toml", "tables/bodies.csv", "files/ring.csv", "files/relatives.nwk", "files/block.stl"],
)
def test_a_file_that_may_not_be_read_is_one_problem(closed_study: Path, name: str) -> None:
    _close(closed_study / name)
    problems = check_folder(closed_study)
    assert len(problems) == 1
    assert "cannot be read" in problems[0].sentence()
    assert "Close it where it is open" in problems[0].sentence()


@pytest.mark.skipif(os.name == "nt", reason="permissions are set in another way there")
def test_a_workbook_and_a_folder_that_may_not_be_read_are_problems(closed_study: Path) -> None:
    uid = os.geteuid()
    if uid == 65534:
        os.seteuid(0)
    openpyxl.Workbook().save(closed_study / "tables" / "more.xlsx")
    if uid == 65534:
        os.seteuid(uid)
    _close(closed_study / "tables" / "more.xlsx")
    (problem,) = check_folder(closed_study)
    assert problem.file == "tables/more.xlsx"
    _close(closed_study / "tables")
    assert "tables" in {problem.file for problem in check_folder(closed_study)}


def _close(path: Path) -> None:
    """Take away every right to read a file, as its owner."""
    uid = os.geteuid()
    if uid == 65534:
        os.seteuid(0)
    path.chmod(0)
    if uid == 65534:
        os.seteuid(uid)


def test_blank_lines_are_skipped_but_rows_keep_the_numbers_a_spreadsheet_shows(
    study_folder: Path,
) -> None:
    path = study_folder / "tables" / "pictures.csv"
    lines = path.read_text().splitlines()
    path.write_text("\n".join([lines[0], "", ",,,,", lines[1], "", lines[2]]) + "\n")
    assert [picture.ref.row for picture in load_study(study_folder).pictures] == [4, 6]


def test_a_line_break_in_a_quoted_cell_counts_as_one_row(study_folder: Path) -> None:
    path = study_folder / "tables" / "pictures.csv"
    path.write_text(path.read_text().replace("A sketch", '"A sketch\nof a bird"'))
    pictures = load_study(study_folder).pictures
    assert pictures[0].title == "A sketch\nof a bird"
    assert pictures[1].ref.row == 3


@pytest.mark.parametrize(
    ("content", "row"),
    [
        ("pictureID,title\npic-1,ok\npic-2,Zeichnung von Süden\n".encode("cp1252"), 3),
        ("pictureID,title\n".encode("utf-16"), None),
        (b"pictureID,title\npic-1,a\x00b\n", 2),
    ],
)
def test_a_wrong_encoding_or_a_control_character_is_named_with_its_line(
    study_folder: Path, content: bytes, row: int | None
) -> None:
    (study_folder / "tables" / "pictures.csv").write_bytes(content)
    problems = check_folder(study_folder)
    assert [(p.file, p.row) for p in problems] == [("tables/pictures.csv", row)]


def test_a_quotation_mark_left_open_is_named_and_swallows_nothing(study_folder: Path) -> None:
    path = study_folder / "tables" / "pictures.csv"
    path.write_text(path.read_text().replace("A sketch", '"A sketch'))
    (problem,) = check_folder(study_folder)
    assert (problem.file, problem.row) == ("tables/pictures.csv", 2)


def test_rows_with_too_few_or_too_many_cells_are_named(study_folder: Path) -> None:
    path = study_folder / "tables" / "pictures.csv"
    path.write_text(path.read_text().replace("pic-1,A sketch", "pic-1,A, sketch"))
    (problem,) = check_folder(study_folder)
    assert (problem.row, problem.found) == (2, "6 cells")


def test_unknown_and_doubled_columns_are_named_with_the_nearest(study_folder: Path) -> None:
    path = study_folder / "tables" / "measurements.csv"
    path.write_text(path.read_text().replace("measurementValue", "measurmentValue", 1))
    (problem,) = check_folder(study_folder)
    assert (problem.row, problem.column) == (1, "measurmentValue")
    assert "measurementValue" in problem.mend
    path.write_text(path.read_text().replace("measurmentValue", "measurementType", 1))
    found = {(p.row, p.column) for p in check_folder(study_folder)}
    assert (1, "measurementType") in found
    assert (1, "measurementValue") in found


def test_a_stray_file_is_named_with_the_nearest_table(study_folder: Path) -> None:
    (study_folder / "tables" / "measurment.csv").write_text("a,b\n")
    (study_folder / "tables" / "old.xls").write_bytes(b"x")
    (study_folder / "tables" / ".~lock.bodies.csv#").write_bytes(b"x")
    problems = check_folder(study_folder)
    assert {p.file for p in problems} == {"tables/measurment.csv", "tables/old.xls"}
    assert any("measurements.csv" in p.mend for p in problems)


def test_a_link_out_of_the_folder_is_refused(study_folder: Path, tmp_path: Path) -> None:
    outside = tmp_path / "outside.csv"
    path = study_folder / "tables" / "bodies.csv"
    path.rename(outside)
    path.symlink_to(outside)
    (problem,) = check_folder(study_folder)
    assert problem.file == "tables/bodies.csv"
    ring = study_folder / "files" / "ring.csv"
    path.unlink()
    ring.rename(tmp_path / "ring.csv")
    ring.symlink_to(tmp_path / "ring.csv")
    (problem,) = check_folder(study_folder)
    assert problem.column == "outlineFile"


def test_a_huge_file_is_refused_unread(study_folder: Path) -> None:
    path = study_folder / "tables" / "bodies.csv"
    os.truncate(path, 65 * 2**20)
    (problem,) = check_folder(study_folder)
    assert (problem.file, problem.found) == ("tables/bodies.csv", "65 MB")


@given(st.binary(max_size=400))
def test_no_bytes_break_the_reader(content: bytes) -> None:
    table = parse_csv("bodies", content, file="tables/bodies.csv")
    assert len(table.rows) == len(table.row_numbers)
    assert not (table.problems and table.rows)
