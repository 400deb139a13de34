"""What a save answers, and what a clash hands over, when others save at the same moment."""

from typing import TYPE_CHECKING, Any

import httpx

if TYPE_CHECKING:
    from conftest import Served


def edits(table: dict[str, Any], row: int, column: str, value: str) -> dict[str, Any]:
    cells = list(table["rows"][row]["cells"])
    cells[table["header"].index(column)] = value
    number = table["rows"][row]["number"]
    changed = [{"number": number, "cells": cells}]
    return {
        "version": table["version"],
        "header": table["header"],
        "changed": changed,
        "added": [],
        "removed": [],
    }


def test_a_clash_hands_over_the_rows_on_disk_that_differ_from_what_is_joined(
    insider: httpx.Client,
) -> None:
    table = insider.get("/api/tables/measurements").json()
    first = edits(table, 0, "measurementValue", "181.2")
    second = edits(table, 1, "measurementValue", "188.4")
    assert insider.post("/api/tables/measurements", json=first).status_code == 200
    answer = insider.post("/api/tables/measurements", json=second)
    assert answer.status_code == 409
    clash = answer.json()
    place = clash["header"].index("measurementValue")
    assert [row["cells"][place] for row in clash["rows"]][:2] == ["181.2", "188.4"]
    assert [row["number"] for row in clash["rows"]] == [2, 3, 4]
    assert [(row["number"], row["cells"][place]) for row in clash["standing"]] == [(3, "168.4")]
    # With what was handed over the page can say what differs from that very version.
    third = {**second, "version": clash["version"]}
    assert insider.post("/api/tables/measurements", json=third).status_code == 200


def test_a_save_answers_with_the_version_it_wrote(served: "Served", insider: httpx.Client) -> None:
    from bonewright.study.raw import content_hash

    table = insider.get("/api/tables/measurements").json()
    answer = insider.post(
        "/api/tables/measurements", json=edits(table, 0, "measurementValue", "181.2")
    ).json()
    content = (served.folder / "tables" / "measurements.csv").read_bytes()
    assert answer["version"] == content_hash(content)
    again = {**edits(table, 1, "measurementValue", "188.4"), "version": answer["version"]}
    assert insider.post("/api/tables/measurements", json=again).status_code == 200
    text = (served.folder / "tables" / "measurements.csv").read_text()
    assert "181.2" in text
    assert "188.4" in text


def test_a_file_changed_by_hand_at_the_moment_of_a_save_is_taken_in_as_well(
    served: "Served", insider: httpx.Client
) -> None:
    table = insider.get("/api/tables/measurements").json()
    path = served.folder / "tables" / "specimens.csv"
    path.write_text(path.read_text().replace("bone-3,BBB", "bone-3,CCC"))
    sent = edits(table, 0, "measurementValue", "181.2")
    assert insider.post("/api/tables/measurements", json=sent).status_code == 200
    specimens = insider.get("/api/tables/specimens").json()
    assert specimens["rows"][2]["cells"][1] == "CCC"
    steps = insider.get("/api/history").json()["steps"]
    assert [step["by"] for step in steps[:2]] == ["page", "by hand"]
