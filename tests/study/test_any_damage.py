"""Damage any one cell of the demo study: it is named, or the study still loads whole."""

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bonewright.errors import StudyProblems
from bonewright.study.load import load_study, load_tables
from bonewright.study.model import Study
from bonewright.study.raw import RawTables
from bonewright.study.read import read_tables
from bonewright.study.schemas import TABLE_BY_NAME
from bonewright.study.settings import Settings
from bonewright.study.settings_file import read_settings

DEMO = Path(__file__).parents[2] / "demo"
NASTY = ["", "0", "-1", "nan", "1e400", "1,5", "1.5", "=1", "\x00", "é", "/", "'", "9" * 400, "mm"]


@pytest.fixture(scope="module")
def demo() -> tuple[RawTables, Settings, Study]:
    study_settings, problems = read_settings(DEMO)
    assert problems == ()
    assert study_settings is not None
    return read_tables(DEMO), study_settings, load_study(DEMO)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_any_damaged_cell_is_named_or_harmless(
    demo: tuple[RawTables, Settings, Study], data: st.DataObject
) -> None:
    raw, study_settings, sound = demo
    table = raw[data.draw(st.sampled_from(sorted(name for name in raw if raw[name].rows)))]
    row = data.draw(st.integers(0, len(table.rows) - 1))
    column = data.draw(st.integers(0, len(table.header) - 1))
    text = data.draw(st.sampled_from(NASTY) | st.text(max_size=8))
    rows = [list(cells) for cells in table.rows]
    rows[row][column] = text
    damaged = raw.with_table(table.with_rows(tuple(tuple(cells) for cells in rows)))
    place = (table.file, row + 2, table.header[column])
    is_key = table.header[column] == TABLE_BY_NAME[table.name].key
    try:
        study = load_tables(damaged, study_settings, DEMO)
    except StudyProblems as caught:
        for problem in caught.problems:
            assert problem.found
            assert problem.expected
            assert problem.mend
        named = {(p.file, p.row, p.column) for p in caught.problems}
        words = " ".join(problem.sentence() for problem in caught.problems)
        # A renamed row is named through the rows that refer to it.
        assert place in named or is_key or f"{table.file}, row {row + 2}" in words
    else:
        # What loads is the study as it was but for the one row: no damage spreads silently.
        for name in TABLE_BY_NAME:
            before, after = getattr(sound, name), getattr(study, name)
            pairs = enumerate(zip(before, after, strict=True))
            changed = [index for index, (old, new) in pairs if old != new]
            if name == "claims" and table.name == "units":
                continue  # what a pound was reaches every claim made in pounds
            assert changed in ([], [row] if name == table.name else [])
