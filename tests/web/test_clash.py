"""Two people change one table."""

from hypothesis import given
from hypothesis import strategies as st

from bonewright.web.clash import Contradiction, Sheet, join

HEADER = ("id", "value", "unit")


def _sheet(*rows: tuple[str, str, str]) -> Sheet:
    return Sheet(header=HEADER, rows=rows)


BEFORE = _sheet(("a", "1", "mm"), ("b", "2", "mm"), ("c", "3", "mm"))


def test_changes_of_different_cells_are_joined() -> None:
    yours = _sheet(("a", "9", "mm"), ("b", "2", "mm"), ("c", "3", "mm"))
    on_disk = _sheet(("a", "1", "cm"), ("b", "2", "mm"), ("c", "4", "mm"))
    joined = join(BEFORE, yours, on_disk, key="id")
    assert joined.sheet.rows == (("a", "9", "cm"), ("b", "2", "mm"), ("c", "4", "mm"))
    assert joined.contradictions == ()


def test_two_values_for_one_cell_contradict() -> None:
    yours = _sheet(("a", "1", "mm"), ("b", "7", "mm"), ("c", "3", "mm"))
    on_disk = _sheet(("a", "1", "mm"), ("b", "8", "mm"), ("c", "3", "mm"))
    joined = join(BEFORE, yours, on_disk, key="id")
    assert joined.contradictions == (
        Contradiction(row_id="b", index=1, column="value", before="2", yours="7", on_disk="8"),
    )
    assert joined.sheet.rows[1] == ("b", "7", "mm")


def test_a_row_that_one_side_deleted_and_the_other_changed_is_kept_and_told() -> None:
    yours = _sheet(("a", "1", "mm"), ("c", "3", "mm"))
    on_disk = _sheet(("a", "1", "mm"), ("b", "8", "mm"), ("c", "3", "mm"))
    joined = join(BEFORE, yours, on_disk, key="id")
    assert ("b", "8", "mm") in joined.sheet.rows
    assert [(found.row_id, found.column) for found in joined.contradictions] == [("b", None)]


def test_rows_added_on_both_sides_are_both_there_and_a_deleted_one_is_gone() -> None:
    yours = _sheet(("a", "1", "mm"), ("new", "5", "mm"), ("b", "2", "mm"), ("c", "3", "mm"))
    on_disk = _sheet(("a", "1", "mm"), ("b", "2", "mm"), ("other", "6", "mm"))
    joined = join(BEFORE, yours, on_disk, key="id")
    assert [row[0] for row in joined.sheet.rows] == ["a", "new", "b", "other"]
    assert joined.contradictions == ()


def test_a_column_added_on_disk_is_kept() -> None:
    on_disk = Sheet(header=(*HEADER, "note"), rows=tuple((*row, "seen") for row in BEFORE.rows))
    joined = join(BEFORE, BEFORE, on_disk, key="id")
    assert joined.sheet == on_disk


def test_rows_of_one_name_are_told_apart_by_their_order() -> None:
    before = _sheet(("", "1", "mm"), ("", "2", "mm"))
    yours = _sheet(("", "1", "mm"), ("", "7", "mm"))
    joined = join(before, yours, before, key="id")
    assert joined.sheet == yours


_CELLS = st.tuples(st.sampled_from("abcd"), st.sampled_from("123"), st.sampled_from(("mm", "cm")))
_SHEETS = st.lists(_CELLS, max_size=5, unique_by=lambda row: row[0]).map(lambda rows: _sheet(*rows))


@given(before=_SHEETS, after=_SHEETS)
def test_what_only_one_side_changed_is_taken_whole(before: Sheet, after: Sheet) -> None:
    for joined in (
        join(before, after, before, key="id"),
        join(before, before, after, key="id"),
    ):
        assert joined.contradictions == ()
        assert sorted(joined.sheet.rows) == sorted(after.rows)


@given(before=_SHEETS, yours=_SHEETS, on_disk=_SHEETS)
def test_no_value_of_either_side_is_lost(before: Sheet, yours: Sheet, on_disk: Sheet) -> None:
    joined = join(before, yours, on_disk, key="id")
    told = {(found.row_id, found.column): found for found in joined.contradictions}
    standing = {row[0]: row for row in joined.sheet.rows}
    old = {row[0]: row for row in before.rows}
    for side, name in ((yours, "yours"), (on_disk, "on_disk")):
        for row in side.rows:
            was = old.get(row[0])
            for place, column in enumerate(HEADER):
                new = was is None or row[place] != was[place]
                if not new or row[place] == "":
                    continue
                contradiction = told.get((row[0], column))
                assert standing[row[0]][place] == row[place] or (
                    contradiction is not None and getattr(contradiction, name) == row[place]
                )
