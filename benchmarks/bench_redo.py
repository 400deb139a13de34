"""How long one edited cell takes to compute again on the demo, beside a fresh run.

For each table one number or word is changed in memory and the study is run again with the
answers of the unchanged demo remembered. Printed: processor time of loading and of running,
the steps computed again, and the ratio to a fresh run in the same process.
"""

import os
import time
from dataclasses import replace
from pathlib import Path

# As the program itself sets it when it starts.
os.environ["OPENBLAS_NUM_THREADS"] = "1"

from bonewright.comparison import Inputs
from bonewright.pipeline import run_study
from bonewright.remembering import StepMemory
from bonewright.report.kept_runs import inputs_of
from bonewright.study.load import load_tables
from bonewright.study.raw import RawTable

DEMO = Path(__file__).parent.parent / "demo"

EDITS = (
    ("sources", "bibliographicCitation", None),
    ("claims", "statement", None),
    ("accounts", "title", None),
    ("hypotheses", "priorPercent", 1.1),
    ("mount_measurements", "measurementValue", 1.01),
    ("picture_marks", "measurementRemarks", None),
    ("bodies", "measurementValue", 1.01),
    ("tissues", "density", 1.01),
    ("sections", "outerMediolateral", 1.01),
    ("relatives", "bodyMass", 1.01),
    ("relative_measurements", "measurementValue", 1.01),
    ("measurements", "measurementValue", 1.01),
)


def edited(table: RawTable, column: str, factor: float | None) -> RawTable:
    place = table.header.index(column)
    for number, row in enumerate(table.rows):
        if not row[place].strip() and factor is not None:
            continue
        cell = row[place] + " (checked)" if factor is None else f"{float(row[place]) * factor:.3f}"
        changed = (*row[:place], cell, *row[place + 1 :])
        return replace(table, rows=(*table.rows[:number], changed, *table.rows[number + 1 :]))
    raise SystemExit(f"nothing to edit in {table.name}")


def timed(inputs: Inputs, memory: StepMemory) -> tuple[float, float]:
    start = time.process_time()
    study = load_tables(inputs.raw, inputs.settings, inputs.folder)
    loaded = time.process_time()
    run_study(study, memory=memory)
    return loaded - start, time.process_time() - loaded


def main() -> None:
    inputs = inputs_of(DEMO)
    timed(inputs, StepMemory())  # libraries load, compiled parts compile
    load_s, fresh_s = timed(inputs, StepMemory())
    print(f"fresh: load {1000 * load_s:.0f} ms, run {1000 * fresh_s:.0f} ms")
    memory = StepMemory()
    timed(inputs, memory)
    for name, column, factor in EDITS:
        table = inputs.raw[name]
        if column not in table.header:
            print(f"{name}: no column {column}")
            continue
        memory.computed.clear()
        changed = replace(inputs, raw=inputs.raw.with_table(edited(table, column, factor)))
        try:
            load_s, run_s = timed(changed, memory)
        except Exception as error:
            print(f"{name}: refused: {str(error)[:100]}")
            continue
        steps = ", ".join(memory.computed) or "none"
        print(
            f"{name}.{column}: load {1000 * load_s:.0f} ms, run {1000 * run_s:.0f} ms,"
            f" {run_s / fresh_s:.2f} of a fresh run; computed: {steps}"
        )


if __name__ == "__main__":
    main()
