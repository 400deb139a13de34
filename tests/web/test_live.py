"""What is told of the work while it goes on, and stopping it."""

import json
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest

from bonewright.remembering import StepMemory, Stopped, tell_progress
from bonewright.study.read import read_tables
from bonewright.study.settings_file import read_settings
from bonewright.web.computing import Computing

Settled = Callable[[], dict[str, Any]]


def _states(client: httpx.Client) -> Iterator[dict[str, Any]]:
    with client.stream("GET", "/api/events") as answer:
        assert answer.headers["content-type"].startswith("text/event-stream")
        for line in answer.iter_lines():
            if line.startswith("data: "):
                yield json.loads(line.removeprefix("data: "))


def test_the_stream_tells_of_a_table_changed_beside_the_page_until_its_results_are_there(
    insider: httpx.Client, settled: Settled, folder: Path
) -> None:
    before = settled()
    table = folder / "tables" / "measurements.csv"
    states = _states(insider)
    assert next(states)["number"] == before["number"]
    table.write_text(table.read_text(encoding="utf-8").replace("171.2", "181.2"), encoding="utf-8")
    # What is computed soon may be told of once only, when its results are there.
    last = next(
        state
        for state in states
        if not state["computing"]
        and state["versions"]["measurements"] != before["versions"]["measurements"]
    )
    assert last["number"] > before["number"]
    assert last["views"]["skeleton"] != before["views"]["skeleton"]


def test_a_stranger_hears_nothing(stranger: httpx.Client) -> None:
    assert stranger.get("/api/events").status_code == 403


def test_stopping_what_is_done_changes_nothing(insider: httpx.Client, settled: Settled) -> None:
    before = settled()
    after = insider.post("/api/work", json={"wanted": "stop"}).json()
    assert (after["stopped"], after["number"]) == (False, before["number"])


class _Asked:
    """Inputs whose computing waits for a sign between two parts of its work."""

    def __init__(self, folder: Path) -> None:
        settings, _ = read_settings(folder)
        assert settings is not None
        self.raw, self.settings, self.folder = read_tables(folder), settings, folder
        self.began, self.go_on = threading.Event(), threading.Event()
        self.ended = ""

    def run(self, memory: StepMemory, *, arrived: Callable[[str, Any], None]) -> Any:
        del arrived

        def step() -> int:
            tell_progress(1, 2)
            self.began.set()
            self.go_on.wait(20)
            self.ended = "stopped"
            tell_progress(2, 2)
            self.ended = "whole"
            return 1

        return memory.recall("skeleton", step)


def test_long_work_says_how_far_it_is_and_ends_in_the_middle_when_stopped(folder: Path) -> None:
    asked = _Asked(folder)
    computing = Computing(lambda: None)
    computing.want(lambda: asked)  # type: ignore[arg-type, return-value]
    assert asked.began.wait(20)
    progress = computing.stand().progress
    assert (progress.step, progress.done, progress.of) == ("skeleton", 1, 2)
    computing.stop()
    stand = computing.stand()
    assert (stand.computing, stand.stopped, stand.run) == (False, True, None)
    asked.go_on.set()
    computing._thread.shutdown(wait=True)
    assert asked.ended == "stopped"
    computing.close()


def test_a_part_of_a_step_is_given_up_too() -> None:
    memory = StepMemory()

    def watcher(step: str, done: int, of: int) -> None:
        if (step, done, of) == ("skeleton", 3, 4):
            raise Stopped

    memory.watcher = watcher
    with pytest.raises(Stopped):
        memory.recall("skeleton", lambda: tell_progress(3, 4))


def test_where_nobody_watches_telling_costs_nothing() -> None:
    tell_progress(1, 2)
