"""Damage one cell of the demo in a realistic way: it is named, or the answers stay right.

Cells are picked with a fixed seed over all tables. 'Named' means that a problem or a
doubt or a caveat points at the damaged row; 'right' means that the pooled interval still
holds the true mass, that the intervals of the average bones hold what they held, and that
running, the blind proof, the old mount and the change of fatness are judged as in the
sound study.
"""

import csv
import io
import re
import shutil
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from bonewright.errors import StudyProblems
from bonewright.findings import Exact, RowRef
from bonewright.pipeline import Run, run_study
from bonewright.quantity import Quantity
from bonewright.remembering import StepMemory
from bonewright.study.columns import Column
from bonewright.study.load import load_study
from bonewright.study.schemas import TABLE_BY_NAME, TABLES

DEMO = Path(__file__).resolve().parents[2] / "demo"
DEMO_TABLES = tuple(
    table.name for table in TABLES if (DEMO / "tables" / f"{table.name}.csv").is_file()
)
SEED = 1760
CELLS_A_TABLE = 10
N_DRAWS = 2000
# A damaged picture leaves the bones as they were: what is known of them is not computed again.
MEMORY = StepMemory(answers_a_step=8)
Truth = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Damage:
    """One cell, what it held and what it holds now. ``row`` is as a spreadsheet shows it."""

    table: str
    row: int
    row_id: str
    column: str
    how: str
    before: str
    after: str

    def __str__(self) -> str:
        return f"{self.table}-{self.row_id}-{self.column}-{self.how}"


def read_rows(table: str) -> list[dict[str, str]]:
    text = (DEMO / "tables" / f"{table}.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(io.StringIO(text)))


def _swapped(cell: str) -> str:
    for place in range(len(cell) - 1):
        first, second = cell[place], cell[place + 1]
        if first.isdigit() and second.isdigit() and first != second and (place or second != "0"):
            return cell[:place] + second + first + cell[place + 2 :]
    return cell


def _scaled(cell: str, factor: float) -> str:
    return f"{float(cell) * factor:g}"


def ways(column: Column, cell: str, others: list[str]) -> dict[str, Callable[[], str]]:
    """Return the realistic ways to damage a cell; ``others`` are values it may take by mistake."""
    if column.kind in ("number", "integer"):
        return {
            "times ten": lambda: _scaled(cell, 10),
            "a tenth": lambda: _scaled(cell, 0.1),
            "digits swapped": lambda: _swapped(cell),
            "blank": lambda: "",
            "text": lambda: "about " + cell,
        }
    if column.kind == "date":
        return {
            "digits swapped": lambda: _swapped(cell),
            "blank": lambda: "",
            "month 13": lambda: f"{cell[:4]}-13",
        }
    if column.kind == "unit":
        units = {"mm": "cm", "cm": "mm", "g": "kg", "kg": "g", "mL": "L", "lb": "kg", "ft": "m"}
        return {
            "another unit": lambda: units.get(cell, "ft"),
            "misspelled": lambda: cell + "x",
            "blank": lambda: "",
        }
    wrong = {f"taken for {other}": (lambda other=other: other) for other in others}
    return {**wrong, "misspelled": lambda: cell[:-1] + "#", "blank": lambda: ""}


def _damages_of(table: str, rng: np.random.Generator) -> list[Damage]:
    rows = read_rows(table)
    schema = TABLE_BY_NAME[table]
    cells = [
        (index, column)
        for index, row in enumerate(rows)
        for column in schema.columns
        if row[column.name] and (column.kind != "text" or column.refers_to or column.required)
    ]
    # Columns by turns, so that the long ones do not hide the rest.
    columns = [column for column in schema.columns if any(c is column for _, c in cells)]
    damages: list[Damage] = []
    for turn in range(CELLS_A_TABLE):
        column = columns[(turn + int(rng.integers(2))) % len(columns)]
        index = int(rng.choice([i for i, c in cells if c is column]))
        before = rows[index][column.name]
        pool = sorted(
            set(column.choices or {row[column.name] for row in rows if column.refers_to}) - {before}
        )
        others = [pool[int(rng.integers(len(pool)))]] if pool else []
        made = {
            how: after
            for how, make in ways(column, before, others).items()
            if (after := make()) != before
        }
        how = sorted(made)[int(rng.integers(len(made)))]
        damages.append(
            Damage(
                table=table,
                row=index + 2,
                row_id=rows[index][schema.key],
                column=column.name,
                how=how,
                before=before,
                after=made[how],
            )
        )
    return damages


def all_damages(seed: int = SEED) -> list[Damage]:
    rng = np.random.default_rng(seed)
    found = [damage for name in DEMO_TABLES for damage in _damages_of(name, rng)]
    return list(dict.fromkeys(found))


def damage_copy(folder: Path, damage: Damage) -> Path:
    """Copy the demo to ``folder`` with one cell damaged."""
    study = folder / "study"
    shutil.copytree(DEMO, study, ignore=shutil.ignore_patterns("results", "history"))
    rows = read_rows(damage.table)
    rows[damage.row - 2][damage.column] = damage.after
    out = io.StringIO()
    writer = csv.DictWriter(out, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    (study / "tables" / f"{damage.table}.csv").write_text(out.getvalue(), encoding="utf-8")
    return study


def run_quickly(folder: Path) -> Run:
    study = load_study(folder)
    draws = study.settings.draws.model_copy(update={"count": N_DRAWS})
    settings = study.settings.model_copy(update={"draws": draws})
    return run_study(replace(study, settings=settings), memory=MEMORY)


def run_or_problems(folder: Path) -> Run | StudyProblems:
    """Run the study; its problems are an answer too, any other error is a fault."""
    try:
        return run_quickly(folder)
    except StudyProblems as problems:
        return problems


def problems_name(error: StudyProblems, damage: Damage) -> bool:
    """Whether a problem points at the row, or says which row's name has gone."""
    place = re.compile(rf"tables/{damage.table}\.csv, row {damage.row}\b")
    renamed = damage.column == TABLE_BY_NAME[damage.table].key
    return any(
        place.search(problem.sentence()) or (renamed and damage.before in problem.found)
        for problem in error.problems
    )


def run_names(run: Run, damage: Damage) -> bool:
    """Whether a doubt or a caveat points at the damaged row.

    So does the audit of the mount that calls a measure wrong, or says it cannot judge it.
    """
    refs: list[RowRef] = [doubt.ref for doubt in run.doubts]
    refs += [ref for f in run.findings for caveat in f.caveats for ref in caveat.rows]
    refs += [ref for caveat in run.verdict.caveats for ref in caveat.rows]
    if any((ref.table, ref.row) == (damage.table, damage.row) for ref in refs):
        return True
    checks = () if run.testimony is None else run.testimony.mount
    judged = {check.measurement_id: check.wrong for check in checks}
    told = {finding.key for finding in run.findings}
    return damage.table == "mount_measurements" and (
        judged.get(damage.row_id, False)
        or (damage.row_id not in judged and f"testimony.mount.{damage.row_id}" in told)
    )


def judgements(run: Run, truth: Truth) -> dict[str, object]:
    """What a reader takes away besides the mass; None where there is no answer."""
    testimony, movement, relatives = run.testimony, run.movement, run.relatives
    proof = None if relatives is None else relatives.blind_proof
    return {
        "could run": None if movement is None else movement.share_inside > 0.5,
        "blind proof": None if proof is None else proof.held,
        "averages off": averages_off(run, truth),
        "mount": None
        if testimony is None
        else sorted(check.title for check in testimony.mount if check.wrong),
        "change": None
        if testimony is None
        else [(c.with_copies, c.p_permutation < 0.05) for c in testimony.change_points],
    }


def averages_off(run: Run, truth: Truth) -> list[str] | None:
    """Average measurements whose interval does not hold the true one, or that are gone."""
    if run.skeleton is None:
        return None
    off = []
    for element, codes in truth["average_mm"].items():
        for code, value in codes.items():
            mean = run.skeleton.means.get((element, code))
            if mean is None:
                off.append(f"{element} {code}")
                continue
            low, high = np.quantile(mean.mean_draws_mm, [0.025, 0.975])
            if not low <= value <= high:
                off.append(f"{element} {code}")
    return off


def holds_true_mass(run: Run, truth: Truth) -> bool:
    if run.pooled is None:
        return False
    low, high = np.quantile(run.pooled.mass_draws_kg, [0.025, 0.975])
    return bool(low <= truth["animal"]["mass_kg"] <= high)


def all_finite(run: Run) -> bool:
    for finding in run.findings:
        if isinstance(finding.value, Quantity):
            if not np.all(np.isfinite(finding.value.draws)):
                return False
        elif isinstance(finding.value, Exact) and not np.isfinite(finding.value.value):
            return False
    return True


@pytest.fixture(scope="session")
def sound_judgements(truth: Truth) -> dict[str, object]:
    return judgements(run_quickly(DEMO), truth)


def test_damages_reach_every_table_and_many_kinds() -> None:
    damages = all_damages()
    assert len(DEMO_TABLES) >= 13
    assert len(damages) >= 110
    assert {damage.table for damage in damages} == set(DEMO_TABLES)
    assert {"times ten", "a tenth", "digits swapped", "blank", "text", "another unit"} <= {
        damage.how for damage in damages
    }
    assert all(damage.before != damage.after for damage in damages)


@pytest.mark.parametrize("damage", all_damages(), ids=str)
def test_damaged_cell_is_named_or_the_answers_stay_right(
    damage: Damage, tmp_path: Path, truth: Truth, sound_judgements: dict[str, object]
) -> None:
    outcome = run_or_problems(damage_copy(tmp_path, damage))
    if isinstance(outcome, StudyProblems):
        assert problems_name(outcome, damage), str(outcome)
        return
    run = outcome
    assert all_finite(run)
    if not run_names(run, damage):
        assert holds_true_mass(run, truth)
        assert judgements(run, truth) == sound_judgements
