from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bonewright.errors import BonewrightError
from bonewright.study.csv_file import parse_csv
from bonewright.study.history import History
from bonewright.study.load import load_study
from bonewright.study.raw import Dialect, RawTable, empty_table
from bonewright.study.read import read_tables
from bonewright.study.save import ChangedOnDisk, csv_bytes, save_table


def with_cell(table: RawTable, row: int, column: str, text: str) -> RawTable:
    rows = [list(cells) for cells in table.rows]
    rows[row][table.header.index(column)] = text
    return table.with_rows(tuple(tuple(cells) for cells in rows))


def test_a_saved_cell_is_read_back_and_the_old_version_is_kept(study_folder: Path) -> None:
    table = read_tables(study_folder)["bodies"]
    before = (study_folder / "tables" / "bodies.csv").read_bytes()
    saved = save_table(study_folder, with_cell(table, 0, "measurementValue", "260"))
    again = read_tables(study_folder)["bodies"]
    assert again == saved
    assert load_study(study_folder).bodies[0].volume_m3 == pytest.approx(260e-6)
    history = History(study_folder)
    found, step = history.steps()
    (change,) = step.changes
    assert (found.by, step.by, change.path) == ("as found", "library", "tables/bodies.csv")
    assert history.content(change.path, change.before or "") == before
    assert not list((study_folder / "tables").glob(".*"))


def test_a_table_can_be_saved_again_and_again(study_folder: Path) -> None:
    table = read_tables(study_folder)["bodies"]
    for value in ("251", "252", "253"):
        table = save_table(study_folder, with_cell(table, 0, "measurementValue", value))
    kept = list((study_folder / "history" / "versions" / "tables" / "bodies.csv").iterdir())
    assert len(kept) == 4
    assert len(History(study_folder).steps()) == 4


def test_saving_without_a_change_leaves_the_bytes_alone_and_is_no_step(
    study_folder: Path,
) -> None:
    for path in (study_folder / "tables").iterdir():
        table = read_tables(study_folder)[path.stem]
        before = path.read_bytes()
        save_table(study_folder, table)
        assert path.read_bytes() == before
    (found,) = History(study_folder).steps()
    assert found.by == "as found"


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("line_ending", ["\n", "\r\n"])
@pytest.mark.parametrize("mark", [False, True])
def test_a_file_keeps_its_own_dialect(
    study_folder: Path, delimiter: str, line_ending: str, mark: bool
) -> None:
    path = study_folder / "tables" / "bodies.csv"
    text = path.read_text().replace(",", delimiter).replace("\n", line_ending)
    if delimiter != ",":
        text = text.replace("250.5", "250,5").replace("0.2512", "0,2512").replace("3.5", "3,5")
    path.write_bytes(text.encode("utf-8-sig" if mark else "utf-8"))
    table = read_tables(study_folder)["bodies"]
    save_table(study_folder, with_cell(table, 0, "bodyID", "model"))
    changed = text.replace("maquette", "model", 1)
    assert path.read_bytes() == changed.encode("utf-8-sig" if mark else "utf-8")


def test_a_file_changed_on_disk_is_not_written_over(study_folder: Path) -> None:
    table = read_tables(study_folder)["bodies"]
    path = study_folder / "tables" / "bodies.csv"
    path.write_text(path.read_text().replace("250.5", "250.6"))
    theirs = path.read_bytes()
    with pytest.raises(ChangedOnDisk):
        save_table(study_folder, with_cell(table, 0, "measurementValue", "260"))
    assert path.read_bytes() == theirs
    path.unlink()
    with pytest.raises(ChangedOnDisk):
        save_table(study_folder, table)


def test_a_new_table_is_made_unless_someone_made_it_first(study_folder: Path) -> None:
    path = study_folder / "tables" / "decisions.csv"
    path.unlink()
    table = empty_table("decisions")
    row = ("dec-1", "measurements", "m-1", "keep", "Measured twice.", "", "")
    saved = save_table(study_folder, table.with_rows((row,)))
    assert read_tables(study_folder)["decisions"] == saved
    with pytest.raises(ChangedOnDisk):
        save_table(study_folder, table)


def test_a_table_that_could_not_be_read_is_not_saved_over(study_folder: Path) -> None:
    path = study_folder / "tables" / "bodies.csv"
    path.write_bytes(b"\xff\xfe")
    with pytest.raises(BonewrightError):
        save_table(study_folder, read_tables(study_folder)["bodies"])
    assert path.read_bytes() == b"\xff\xfe"


def test_a_table_in_a_workbook_is_not_saved_beside_it(study_folder: Path) -> None:
    table = replace(read_tables(study_folder)["bodies"], file="tables/all.xlsx, sheet bodies")
    with pytest.raises(BonewrightError):
        save_table(study_folder, table)


def test_a_formula_is_not_saved(study_folder: Path) -> None:
    table = read_tables(study_folder)["bodies"]
    before = (study_folder / "tables" / "bodies.csv").read_bytes()
    with pytest.raises(BonewrightError):
        save_table(study_folder, with_cell(table, 0, "bodyID", '=HYPERLINK("x")'))
    assert (study_folder / "tables" / "bodies.csv").read_bytes() == before


def test_text_that_begins_like_a_formula_is_quoted_and_a_negative_number_is_not() -> None:
    table = empty_table("bodies").with_rows((("@a", "+b", "-1.5"),))
    assert b'"@a","+b",-1.5' in csv_bytes(table)


def test_a_link_out_of_the_folder_is_not_written_through(
    study_folder: Path, tmp_path: Path
) -> None:
    path = study_folder / "tables" / "bodies.csv"
    outside = tmp_path / "outside.csv"
    path.rename(outside)
    path.symlink_to(outside)
    before = outside.read_bytes()
    with pytest.raises(BonewrightError):
        save_table(study_folder, replace(empty_table("bodies"), content_hash=None))
    assert outside.read_bytes() == before


def test_a_failed_write_leaves_the_old_version_whole(study_folder: Path) -> None:
    table = read_tables(study_folder)["bodies"]
    path = study_folder / "tables" / "bodies.csv"
    before = path.read_bytes()
    # A file where the history folder should be makes the first step of saving fail.
    (study_folder / "history").write_text("in the way")
    with pytest.raises(BonewrightError):
        save_table(study_folder, with_cell(table, 0, "measurementValue", "260"))
    assert path.read_bytes() == before
    assert not list((study_folder / "tables").glob(".*"))


CELL = st.text(st.characters(exclude_categories=["Cs", "Cc"], include_characters="\n"), max_size=12)


@given(
    st.lists(st.tuples(CELL, CELL, CELL), min_size=1, max_size=4),
    st.sampled_from([",", ";", "\t"]),
    st.booleans(),
    st.sampled_from(["\n", "\r\n"]),
)
def test_any_cells_written_are_read_back_as_they_were(
    rows: list[tuple[str, str, str]], delimiter: str, mark: bool, line_ending: str
) -> None:
    table = RawTable(
        name="bodies",
        file="tables/bodies.csv",
        header=("measurementID", "bodyID", "bodyState"),
        rows=tuple(rows),
        dialect=Dialect(delimiter=delimiter, byte_order_mark=mark, line_ending=line_ending),
    )
    again = parse_csv("bodies", csv_bytes(table), file=table.file)
    assert again.problems == ()
    assert again.header == table.header
    assert again.rows == tuple(row for row in rows if any(cell.strip() for cell in row))
