"""Widths of columns over HTTP: kept by table, refused when they are none."""

from pathlib import Path

import httpx

ADDRESS = "/api/column-widths/measurements"


def test_widths_are_kept_by_table(insider: httpx.Client) -> None:
    widths = {"measurementID": 120, "measurementValue": 64}
    assert insider.get(ADDRESS).json() == {"widths": {}}
    assert insider.post(ADDRESS, json={"widths": widths}).status_code == 200
    other = insider.post("/api/column-widths/sources", json={"widths": {"sourceID": 90}})
    assert other.status_code == 200
    assert insider.get(ADDRESS).json() == {"widths": widths}


def test_what_is_no_width_or_no_table_is_refused(insider: httpx.Client) -> None:
    for wrong in (0, 10_000, "wide"):
        asked = insider.post(ADDRESS, json={"widths": {"measurementID": wrong}})
        assert asked.status_code == 422
    assert insider.get("/api/column-widths/no-table").status_code == 404
    assert insider.get(ADDRESS).json() == {"widths": {}}


def test_a_file_of_widths_that_was_spoilt_is_as_none(insider: httpx.Client, folder: Path) -> None:
    (folder / "results").mkdir(exist_ok=True)
    (folder / "results" / "column-widths.json").write_text("[1, 2", encoding="utf-8")
    assert insider.get(ADDRESS).json() == {"widths": {}}
