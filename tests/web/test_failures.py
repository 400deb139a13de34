"""Every error has one shape, and never a traceback."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest
from starlette.requests import Request

from bonewright.errors import Problem, StudyProblems
from bonewright.web.failures import failure_response

ERROR_SHAPE = {"error", "remedy", "problems"}


def _request(path: str = "/api/state", accept: str = "*/*") -> Request:
    return Request(
        {
            "type": "http",
            "method": "GET",
            "path": path,
            "query_string": b"",
            "headers": [(b"accept", accept.encode()), (b"host", b"127.0.0.1:1")],
        }
    )


@pytest.mark.parametrize(
    "address",
    [
        "/api/tables/passwd",
        "/api/tables/..%2F..%2Fstudy.toml",
        "/api/tables/%2e%2e%2fstudy",
        "/static/../app.py",
        "/static/..%2f..%2fapp.py",
        "/static/%2e%2e/app.py",
        "/fonts/..%2FLICENSE.md",
        "/fonts/LICENSE.md",
        "/errand/1/..%2Fstudy.toml",
        "/errand/1/findings.json",
        "/figure/..%2F..%2Fx.svg",
        "/nowhere",
        "/study.toml",
    ],
)
def test_no_address_leads_out_of_what_is_served(insider: httpx.Client, address: str) -> None:
    answer = insider.get(address)
    assert answer.status_code == 404
    assert set(answer.json()) == ERROR_SHAPE


def test_no_table_can_be_written_that_the_study_does_not_have(
    insider: httpx.Client, folder: Path
) -> None:
    before = sorted(folder.rglob("*"))
    body = {"version": "x", "header": ["a"], "rows": [{"number": None, "cells": ["1"]}]}
    for name in ("..%2F..%2Fevil", "evil", "%2Ftmp%2Fevil"):
        assert insider.post(f"/api/tables/{name}", json=body).status_code == 404
    assert sorted(folder.rglob("*")) == before


@pytest.mark.parametrize(
    "body", ["", "{", "[]", "null", '{"tables": 1}', '{"tables": {"specimens": {"rows": []}}}']
)
def test_what_cannot_be_read_is_told_in_the_one_shape(insider: httpx.Client, body: str) -> None:
    answer = insider.post("/api/check", content=body, headers={"content-type": "application/json"})
    assert answer.status_code == 422
    assert set(answer.json()) == ERROR_SHAPE


def test_rows_of_another_length_than_the_header_are_refused(insider: httpx.Client) -> None:
    sheet = {"header": ["a", "b"], "rows": [{"number": 2, "cells": ["1"]}]}
    answer = insider.post("/api/check", json={"tables": {"specimens": sheet}})
    assert answer.status_code == 422
    assert set(answer.json()) == ERROR_SHAPE


def test_a_person_gets_a_page_and_a_program_gets_json(insider: httpx.Client) -> None:
    assert insider.get("/nowhere", headers={"accept": "text/html"}).text.startswith(
        "<!doctype html>"
    )
    assert insider.get("/api/tables/nowhere", headers={"accept": "text/html"}).json()["remedy"]


def test_a_fault_in_the_program_is_one_plain_sentence() -> None:
    answer = failure_response(_request(), ZeroDivisionError("secret detail"))
    assert answer.status_code == 500
    assert b"secret detail" not in bytes(answer.body)
    assert b"Traceback" not in bytes(answer.body)


def test_problems_of_a_study_are_all_carried_and_escaped() -> None:
    problem = Problem(
        file="tables/x.csv", row=3, column="<b>", found="<i>", expected="y", mend="Mend it."
    )
    answer = failure_response(_request("/", "text/html"), StudyProblems((problem,)))
    assert b"&lt;i&gt;" in bytes(answer.body)
    assert b"<i>" not in bytes(answer.body)


def test_the_report_waits_until_the_tables_are_sound(
    insider: httpx.Client, folder: Path, settled: Callable[[], dict[str, Any]]
) -> None:
    path = folder / "tables" / "measurements.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("171.2", "much"), encoding="utf-8")
    settled()
    answer = insider.post("/api/errands", json={"kind": "report"})
    assert answer.status_code == 409
    assert set(answer.json()) == ERROR_SHAPE


def test_a_figure_without_results_is_told_as_missing(insider: httpx.Client) -> None:
    assert insider.get("/figure/mass_lines.svg").status_code == 404
