"""The history over HTTP: listed, opened, undone, done again, gone back to."""

from typing import TYPE_CHECKING, Any

import httpx

if TYPE_CHECKING:
    from conftest import Served


def save_value(insider: httpx.Client, value: str) -> httpx.Response:
    table: dict[str, Any] = insider.get("/api/tables/measurements").json()
    rows = table["rows"]
    rows[0]["cells"][table["header"].index("measurementValue")] = value
    sent = {"version": table["version"], "header": table["header"], "rows": rows}
    return insider.post("/api/tables/measurements", json=sent)


def value(served: "Served") -> str:
    return (served.folder / "tables" / "measurements.csv").read_text().splitlines()[1]


def test_a_save_is_a_step_that_says_what_changed_and_can_be_undone_and_redone(
    served: "Served", insider: httpx.Client
) -> None:
    assert save_value(insider, "181.2").status_code == 200
    listed = insider.get("/api/history").json()
    step = listed["steps"][0]
    assert (step["by"], step["files"]) == ("page", ["tables/measurements.csv"])
    assert listed["undo"]["number"] == step["number"]
    assert listed["redo"] is None
    changes = insider.get(f"/api/history/{step['number']}").json()["changes"]
    assert [(c["row_id"], c["column"], c["before"], c["after"]) for c in changes] == [
        ("m-1", "measurementValue", "171.2", "181.2")
    ]
    answer = insider.post("/api/history/undo", json={"number": step["number"]})
    assert answer.status_code == 200
    assert "171.2" in value(served)
    assert insider.get("/api/history").json()["redo"]["number"] == step["number"]
    assert insider.post("/api/history/redo", json={}).status_code == 200
    assert "181.2" in value(served)


def test_the_study_goes_back_to_a_step_from_the_page(
    served: "Served", insider: httpx.Client
) -> None:
    for changed in ("181.2", "182.2"):
        save_value(insider, changed)
    answer = insider.post("/api/history/restore", json={"to": "1"}).json()
    assert answer["step"]["files"] == ["tables/measurements.csv"]
    assert answer["left"] == []
    assert "171.2" in value(served)


def test_an_undo_of_a_step_that_is_no_longer_the_last_is_refused(
    served: "Served", insider: httpx.Client
) -> None:
    save_value(insider, "181.2")
    seen = insider.get("/api/history").json()["undo"]["number"]
    save_value(insider, "182.2")
    answer = insider.post("/api/history/undo", json={"number": seen})
    assert answer.status_code == 422
    assert answer.json()["remedy"]
    assert "182.2" in value(served)


def test_an_edit_by_hand_while_the_page_is_open_is_a_step(
    served: "Served", insider: httpx.Client
) -> None:
    insider.get("/api/state")
    path = served.folder / "tables" / "specimens.csv"
    path.write_text(path.read_text().replace("bone-3,BBB", "bone-3,CCC"))
    step = insider.get("/api/history").json()["steps"][0]
    assert (step["by"], step["files"]) == ("by hand", ["tables/specimens.csv"])


def test_words_that_are_no_moment_and_steps_that_are_none_are_refused(
    insider: httpx.Client,
) -> None:
    assert insider.post("/api/history/restore", json={"to": "once"}).status_code == 422
    assert insider.get("/api/history/99").status_code == 404


def test_a_save_tells_of_a_table_that_a_spreadsheet_has_open(
    served: "Served", insider: httpx.Client
) -> None:
    (served.folder / "tables" / ".~lock.measurements.csv#").write_text("open")
    assert "spreadsheet" in save_value(insider, "181.2").json()["note"]
