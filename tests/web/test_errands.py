"""What is made beside the page: with progress, files to take away, and errors in words."""

import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest

from bonewright.errors import BonewrightError
from bonewright.web.errands import Errand, Errands, Made, Outcome, Tell

Settled = Callable[[], dict[str, Any]]


@pytest.fixture
def errands() -> Iterator[Errands]:
    errands = Errands(lambda: None)
    yield errands
    errands.close()


def _ended(errands: Errands, number: int) -> Errand:
    for _ in range(400):
        errand = next(one for one in errands.all() if one.number == number)
        if errand.state not in ("waiting", "at work"):
            return errand
        time.sleep(0.02)
    raise TimeoutError("The errand never ended.")


def test_an_errand_ends_with_its_files(errands: Errands) -> None:
    def work(place: Path, tell: Tell) -> Outcome:
        tell("writing", 0, 1)
        (place / "note.txt").write_text("made", encoding="utf-8")
        return Outcome(
            files=(Made(name="n.txt", path=place / "note.txt", media_type="text/plain"),)
        )

    number = errands.begin("report", "A note", work)
    assert _ended(errands, number).state == "done"
    made = errands.file(number, "n.txt")
    assert made is not None
    assert made.path.read_text(encoding="utf-8") == "made"
    assert errands.file(number, "../n.txt") is None
    errands.close()
    assert not made.path.exists()


def test_one_at_work_is_stopped_at_its_next_part_and_one_that_waits_at_once(
    errands: Errands,
) -> None:
    began, go_on = threading.Event(), threading.Event()

    def work(place: Path, tell: Tell) -> Outcome:
        del place
        began.set()
        go_on.wait(20)
        tell("second part", 1, 2)
        return Outcome()

    first = errands.begin("report", "First", work)
    second = errands.begin("report", "Second", work)
    assert began.wait(20)
    errands.stop(second)
    assert _ended(errands, second).state == "stopped"
    errands.stop(first)
    go_on.set()
    assert _ended(errands, first).state == "stopped"


def test_what_goes_wrong_is_told_in_words_and_the_next_errand_is_made(errands: Errands) -> None:
    def fails(place: Path, tell: Tell) -> Outcome:
        del place, tell
        raise BonewrightError("The disk is full.", remedy="Make room.")

    def broken(place: Path, tell: Tell) -> Outcome:
        del place, tell
        raise ZeroDivisionError

    assert _ended(errands, errands.begin("a", "A", fails)).message == "The disk is full. Make room."
    told = _ended(errands, errands.begin("b", "B", broken))
    assert told.state == "failed"
    assert "ZeroDivision" not in told.message
    assert _ended(errands, errands.begin("c", "C", lambda _p, _t: Outcome())).state == "done"


def test_a_run_is_kept_and_compared_with_the_study_as_it_stands(
    insider: httpx.Client, settled: Settled, folder: Path
) -> None:
    settled()
    kept = insider.post("/api/kept-runs", json={}).json()["run"]
    table = folder / "tables" / "measurements.csv"
    table.write_text(table.read_text(encoding="utf-8").replace("171.2", "175.9"), encoding="utf-8")
    settled()
    insider.post("/api/errands", json={"kind": "compare", "earlier": kept})
    for _ in range(400):
        states = insider.get("/api/state").json()["errands"]
        if states[0]["state"] not in ("waiting", "at work"):
            break
        time.sleep(0.05)
    assert states[0]["state"] == "done"
    page = insider.get("/takeaway").text
    assert kept in page
    assert "175.9" in page


def test_a_run_that_is_not_there_fails_in_words(insider: httpx.Client, settled: Settled) -> None:
    settled()
    insider.post("/api/errands", json={"kind": "compare", "earlier": "nowhere"})
    for _ in range(400):
        page = insider.get("/takeaway").text
        if "Not made." in page:
            break
        time.sleep(0.05)
    assert "There is no run nowhere." in page


def test_a_pack_that_cannot_be_made_is_refused_before_it_is_begun(
    insider: httpx.Client, settled: Settled
) -> None:
    settled()
    for wrong in ({"scale": "tiny"}, {"paper": "napkin"}, {"bed": "2x2"}, {"layer": "woollen"}):
        answer = insider.post("/api/errands", json={"kind": "pack", **wrong})
        assert answer.status_code == 422
        assert answer.json()["remedy"]


def test_a_pack_of_a_study_without_a_body_fails_in_words(
    insider: httpx.Client, settled: Settled
) -> None:
    settled()
    insider.post("/api/errands", json={"kind": "pack"})
    for _ in range(400):
        page = insider.get("/takeaway").text
        if "Not made." in page:
            break
        time.sleep(0.05)
    assert "Needed:" in page
