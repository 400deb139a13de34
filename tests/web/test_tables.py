"""Reading, checking, saving and deciding through the page."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest

ERROR_SHAPE = {"error", "remedy", "problems"}
Settled = Callable[[], dict[str, Any]]


def _sheet(table: dict[str, Any]) -> dict[str, Any]:
    return {"header": table["header"], "rows": table["rows"]}


def _set(table: dict[str, Any], row: int, column: str, text: str) -> None:
    table["rows"][row]["cells"][table["header"].index(column)] = text


def _save(insider: httpx.Client, table: dict[str, Any]) -> httpx.Response:
    return insider.post(
        f"/api/tables/{table['name']}", json={"version": table["version"], **_sheet(table)}
    )


def test_a_table_comes_as_it_stands_with_the_columns_it_could_have(insider: httpx.Client) -> None:
    table = insider.get("/api/tables/measurements").json()
    assert table["rows"][2]["number"] == 4
    assert table["rows"][2]["cells"][:5] == ["m-3", "bone-3", "GL", "17.3", "cm"]
    assert "measurementRemarks" in table["header"]
    assert table["suggestions"]["materialEntityID"] == ["bone-1", "bone-2", "bone-3"]
    choices = {column["name"]: column["choices"] for column in table["columns"]}
    assert "GL" in choices["measurementType"]


def test_a_table_without_a_file_comes_empty_and_can_be_saved(
    insider: httpx.Client, folder: Path
) -> None:
    table = insider.get("/api/tables/sources").json()
    assert table["rows"] == []
    cells = [""] * len(table["header"])
    table["rows"] = [{"number": None, "cells": cells}]
    _set(table, 0, "sourceID", "src-1")
    _set(table, 0, "bibliographicCitation", "Visit, 2026")
    _set(table, 0, "sourceKind", "own measuring")
    assert _save(insider, table).status_code == 200
    assert "src-1" in (folder / "tables" / "sources.csv").read_text(encoding="utf-8")


def test_the_check_names_the_cell_while_it_is_typed_and_writes_nothing(
    insider: httpx.Client, folder: Path
) -> None:
    before = (folder / "tables" / "measurements.csv").read_bytes()
    table = insider.get("/api/tables/measurements").json()
    _set(table, 1, "measurementValue", "168,4 mm")
    problems = insider.post("/api/check", json={"tables": {"measurements": _sheet(table)}}).json()[
        "problems"
    ]
    assert [(found["table"], found["index"], found["column"]) for found in problems] == [
        ("measurements", 1, "measurementValue")
    ]
    assert problems[0]["row"] == 3
    assert problems[0]["mend"]
    assert (folder / "tables" / "measurements.csv").read_bytes() == before


def test_the_check_places_problems_right_after_a_row_was_deleted_and_one_added(
    insider: httpx.Client,
) -> None:
    table = insider.get("/api/tables/measurements").json()
    del table["rows"][0]
    table["rows"].insert(0, {"number": None, "cells": ["m-9", "bone-1", "GL", "x", "mm"]})
    table["rows"][0]["cells"] += [""] * (len(table["header"]) - 5)
    problems = insider.post("/api/check", json={"tables": {"measurements": _sheet(table)}}).json()[
        "problems"
    ]
    assert [(found["index"], found["column"]) for found in problems] == [(0, "measurementValue")]


def test_an_edit_in_one_table_shows_what_it_breaks_in_another(insider: httpx.Client) -> None:
    table = insider.get("/api/tables/specimens").json()
    _set(table, 0, "materialEntityID", "bone-9")
    problems = insider.post("/api/check", json={"tables": {"specimens": _sheet(table)}}).json()[
        "problems"
    ]
    assert [(found["table"], found["column"]) for found in problems] == [
        ("measurements", "materialEntityID")
    ]


def test_saving_changes_the_cell_and_nothing_else_and_computes_anew(
    insider: httpx.Client, folder: Path, settled: Settled
) -> None:
    number = settled()["number"]
    table = insider.get("/api/tables/measurements").json()
    _set(table, 0, "measurementValue", "172.0")
    answer = _save(insider, table)
    assert answer.status_code == 200
    text = (folder / "tables" / "measurements.csv").read_text(encoding="utf-8")
    assert text.splitlines()[0].count(",") == 4
    assert text.splitlines()[1] == "m-1,bone-1,GL,172.0,mm"
    assert text.splitlines()[2] == "m-2,bone-2,GL,168.4,mm"
    state = settled()
    assert state["number"] > number
    assert state["versions"]["measurements"] == answer.json()["version"]


def test_half_done_work_is_saved_and_the_results_are_then_marked_as_older(
    insider: httpx.Client, settled: Settled
) -> None:
    assert settled()["stale"] is False
    table = insider.get("/api/tables/measurements").json()
    _set(table, 0, "measurementValue", "")
    assert _save(insider, table).status_code == 200
    state = settled()
    assert state["stale"] is True
    assert state["problems"] == 1
    text = insider.get("/skeleton").text
    assert "Not computed until these problems are mended" in text
    assert "from before the last changes" in text
    assert "#measurements:2:measurementValue" in text


def test_a_change_made_on_disk_is_taken_in(
    insider: httpx.Client, folder: Path, settled: Settled
) -> None:
    before = settled()
    path = folder / "tables" / "measurements.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("171.2", "169.25"), encoding="utf-8")
    assert settled()["number"] > before["number"]
    assert insider.get("/api/tables/measurements").json()["rows"][0]["cells"][3] == "169.25"


def test_two_changes_of_one_cell_clash_and_both_are_shown_and_nothing_is_written(
    insider: httpx.Client, folder: Path
) -> None:
    table = insider.get("/api/tables/measurements").json()
    path = folder / "tables" / "measurements.csv"
    theirs = path.read_text(encoding="utf-8").replace("171.2", "169.0").replace("168.4", "168.9")
    path.write_text(theirs, encoding="utf-8")
    _set(table, 0, "measurementValue", "172.0")
    _set(table, 2, "measurementValue", "17.4")
    answer = _save(insider, table)
    assert answer.status_code == 409
    body = answer.json()
    assert set(body) >= ERROR_SHAPE
    assert [
        (found["row_id"], found["column"], found["before"], found["yours"], found["on_disk"])
        for found in body["differences"]
    ] == [("m-1", "measurementValue", "171.2", "172.0", "169.0")]
    assert [row["cells"][3] for row in body["rows"]] == ["172.0", "168.9", "17.4"]
    assert path.read_text(encoding="utf-8") == theirs

    joined = {**table, "version": body["version"], "header": body["header"], "rows": body["rows"]}
    assert _save(insider, joined).status_code == 200
    assert "m-1,bone-1,GL,172.0,mm" in path.read_text(encoding="utf-8")


def test_a_ragged_row_is_shown_whole_and_saved_unchanged(
    insider: httpx.Client, folder: Path
) -> None:
    path = folder / "tables" / "measurements.csv"
    text = path.read_text(encoding="utf-8").replace("GL,168.4,mm", "GL,168,4,mm")
    path.write_text(text, encoding="utf-8")
    table = insider.get("/api/tables/measurements").json()
    assert table["rows"][1]["cells"][3:6] == ["168", "4", "mm"]
    _set(table, 0, "measurementValue", "171.3")
    assert _save(insider, table).status_code == 200
    assert path.read_text(encoding="utf-8") == text.replace("171.2", "171.3")


def test_a_column_that_the_file_lacks_is_added_only_when_it_is_filled(
    insider: httpx.Client, folder: Path
) -> None:
    table = insider.get("/api/tables/measurements").json()
    _set(table, 0, "measurementDeterminedBy", "observer A")
    assert _save(insider, table).status_code == 200
    lines = (folder / "tables" / "measurements.csv").read_text(encoding="utf-8").splitlines()
    assert lines[0].split(",")[5:] == ["measurementDeterminedBy"]
    assert lines[1].endswith(",mm,observer A")
    assert lines[2].endswith(",mm,")


def test_a_file_that_cannot_be_read_is_never_saved_over(
    insider: httpx.Client, folder: Path
) -> None:
    path = folder / "tables" / "measurements.csv"
    path.write_bytes(b"measurementID\xff\x00")
    before = path.read_bytes()
    table = insider.get("/api/tables/measurements").json()
    assert table["locked"]
    assert _save(insider, table).status_code == 422
    assert path.read_bytes() == before


def test_a_decision_is_written_with_its_reason(
    insider: httpx.Client, folder: Path, settled: Settled
) -> None:
    body = {
        "table": "measurements",
        "row_id": "m-2",
        "decision": "set aside",
        "reason": "Burnt, so it shrank.",
    }
    assert insider.post("/api/decisions", json=body).status_code == 200
    text = (folder / "tables" / "decisions.csv").read_text(encoding="utf-8")
    assert "measurements,m-2,set aside" in text
    assert "Burnt, so it shrank." in text
    assert settled()["problems"] == 0


@pytest.mark.parametrize(
    ("change", "status"),
    [({"row_id": "m-77"}, 404), ({"table": "nothing"}, 404), ({"reason": "  "}, 422)],
)
def test_a_decision_on_nothing_or_without_a_reason_is_refused(
    insider: httpx.Client, folder: Path, change: dict[str, str], status: int
) -> None:
    body = {"table": "measurements", "row_id": "m-2", "decision": "keep", "reason": "Seen."}
    assert insider.post("/api/decisions", json=body | change).status_code == status
    assert not (folder / "tables" / "decisions.csv").exists()


def test_a_table_brings_the_problems_of_its_cells_with_their_mends(
    insider: httpx.Client, folder: Path
) -> None:
    path = folder / "tables" / "measurements.csv"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("168.4,mm", "168.4 mm,mm"), encoding="utf-8")
    table = insider.get("/api/tables/measurements").json()
    assert [(found["index"], found["column"], found["instead"]) for found in table["problems"]] == [
        (1, "measurementValue", ["168.4"])
    ]
    assert table["decimal_mark"] == "."
    assert insider.get("/api/tables/specimens").json()["problems"][0]["index"] is None


def test_only_what_differs_need_be_sent_to_check_and_to_save(
    insider: httpx.Client, folder: Path
) -> None:
    table = insider.get("/api/tables/measurements").json()
    width = len(table["header"]) - 5
    edits = {
        "version": table["version"],
        "header": table["header"],
        "changed": [
            {"number": 3, "cells": ["m-2", "bone-2", "GL", "x", "mm", *[""] * width]},
        ],
        "added": [
            {"after": 1, "cells": ["m-0", "bone-1", "GL", "170", "mm", *[""] * width]},
            {"after": 4, "cells": ["m-9", "bone-9", "GL", "170", "mm", *[""] * width]},
        ],
        "removed": [2],
    }
    problems = insider.post("/api/check", json={"tables": {"measurements": edits}}).json()
    assert [(found["index"], found["column"]) for found in problems["problems"]] == [
        (1, "measurementValue"),
        (3, "materialEntityID"),
    ]
    assert insider.post("/api/tables/measurements", json=edits).status_code == 200
    lines = (folder / "tables" / "measurements.csv").read_text(encoding="utf-8").splitlines()
    assert [line.split(",")[0] for line in lines[1:]] == ["m-0", "m-2", "m-3", "m-9"]


def test_changes_that_do_not_fit_their_version_are_refused_and_nothing_is_written(
    insider: httpx.Client, folder: Path
) -> None:
    before = (folder / "tables" / "measurements.csv").read_bytes()
    table = insider.get("/api/tables/measurements").json()
    cells = [""] * len(table["header"])
    sound: dict[str, Any] = {
        "version": table["version"],
        "header": table["header"],
        "changed": [],
        "added": [],
        "removed": [],
    }
    for wrong, status in (
        ({"removed": [9]}, 422),
        ({"changed": [{"number": 9, "cells": cells}]}, 422),
        ({"added": [{"after": 9, "cells": cells}]}, 422),
        ({"added": [{"after": 1, "cells": cells[1:]}]}, 422),
        ({"header": table["header"][1:]}, 422),
        ({"version": "of long ago"}, 410),
    ):
        answer = insider.post("/api/tables/measurements", json={**sound, **wrong})
        assert answer.status_code == status
        assert set(answer.json()) == ERROR_SHAPE
    assert (folder / "tables" / "measurements.csv").read_bytes() == before


def test_a_save_from_a_forgotten_version_contradicts_whatever_differs(
    insider: httpx.Client,
) -> None:
    table = insider.get("/api/tables/measurements").json()
    _set(table, 0, "measurementValue", "180")
    answer = insider.post(
        "/api/tables/measurements", json={"version": "of long ago", **_sheet(table)}
    )
    assert answer.status_code == 409
    body = answer.json()
    assert [(found["yours"], found["on_disk"]) for found in body["differences"]] == [
        ("180", "171.2")
    ]
    assert [column["name"] for column in body["columns"]] == body["header"]
