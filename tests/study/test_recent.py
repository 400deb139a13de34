from dataclasses import replace
from pathlib import Path

from bonewright.study.check import check_tables
from bonewright.study.read import read_tables
from bonewright.study.recent import Recent
from bonewright.study.settings_file import read_settings


def test_an_answer_is_worked_out_once_and_forgotten_after_a_few_others() -> None:
    recent: Recent[int] = Recent(kept=2)
    asked: list[int] = []

    def answer(question: int) -> int:
        return recent.recall("a", question, lambda: asked.append(question) or -question)

    assert [answer(1), answer(1), answer(2), answer(1)] == [-1, -1, -2, -1]
    assert asked == [1, 2]
    answer(3)
    answer(1)
    assert asked == [1, 2, 3, 1]


def test_an_edit_taken_back_gives_the_problems_of_before(study_folder: Path) -> None:
    raw, (settings, _) = read_tables(study_folder), read_settings(study_folder)
    table = raw["measurements"]
    place = table.header.index("measurementValue")
    rows = ((*table.rows[0][:place], "17O.5", *table.rows[0][place + 1 :]), *table.rows[1:])
    wrong = raw.with_table(replace(table, rows=rows))
    for _ in range(2):
        assert check_tables(raw, settings, study_folder) == ()
        (problem,) = check_tables(wrong, settings, study_folder)
        assert (problem.row, problem.column) == (2, "measurementValue")


def test_a_decision_that_overrules_a_limit_is_heard_at_once(study_folder: Path) -> None:
    raw, (settings, _) = read_tables(study_folder), read_settings(study_folder)
    table, decisions = raw["measurements"], raw["decisions"]
    place = table.header.index("measurementValue")
    rows = ((*table.rows[0][:place], "17000", *table.rows[0][place + 1 :]), *table.rows[1:])
    raw = raw.with_table(replace(table, rows=rows))
    assert len(check_tables(raw, settings, study_folder)) == 1
    row = ("dec-2", "measurements", "m-1", "keep", "It is a giant.")
    kept = raw.with_table(decisions.with_rows((*decisions.rows, row)))
    assert check_tables(kept, settings, study_folder) == ()
    assert len(check_tables(raw, settings, study_folder)) == 1
