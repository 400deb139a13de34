"""A step that lacks evidence because rows are held out still shows the doubts."""

import shutil
from pathlib import Path

import pytest

from bonewright.pipeline import run_study
from bonewright.study.load import load_study

DEMO = Path(__file__).parents[2] / "demo"


def emptied_but_for(folder: Path, table: str, rows: list[str]) -> None:
    path = folder / "tables" / f"{table}.csv"
    header = path.read_text(encoding="utf-8-sig").splitlines()[0]
    path.write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")


@pytest.fixture
def bare_demo(tmp_path: Path) -> Path:
    """Give the demo without what else a body could be weighed by."""
    folder = tmp_path / "study"
    shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("results", "history"))
    for table in ("specimens", "measurements", "sections", "mount_measurements", "decisions"):
        emptied_but_for(folder, table, [])
    for table in ("body_scans", "body_segments", "body_hoops", "lost_parts"):
        emptied_but_for(folder, table, [])
    return folder


def test_two_maquette_readings_a_factor_of_1000_apart_stay_to_be_decided_on(
    bare_demo: Path,
) -> None:
    path = bare_demo / "tables" / "bodies.csv"
    columns = path.read_text(encoding="utf-8-sig").splitlines()[0].split(",")
    cells = {
        "bodyID": "maquette",
        "bodyState": "mean",
        "scaleDenominator": "5",
        "measurementValue": "38.5",
    }
    rows = [
        ",".join(
            {**cells, "measurementID": name, "measurementUnit": unit}.get(column, "")
            for column in columns
        )
        for name, unit in (("v-1", "mL"), ("v-2", "L"))
    ]
    emptied_but_for(bare_demo, "bodies", rows)
    run = run_study(load_study(bare_demo))
    assert run.body is None
    assert {doubt.ref.row_id for doubt in run.doubts if doubt.ref.table == "bodies"} >= {"v-2"}
