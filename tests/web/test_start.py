"""The start page, and the first minutes of a study."""

import csv
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest

from bonewright.study.blank import new_study
from bonewright.study.demo import copy_demo, is_copy_of_demo
from bonewright.web.first_steps import FirstStep, first_steps
from bonewright.web.reception import Reception, shelf

Settled = Callable[[], dict[str, Any]]


@pytest.fixture
def home(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Path:
    place = tmp_path_factory.mktemp("home")
    monkeypatch.setenv("HOME", str(place))
    monkeypatch.setenv("USERPROFILE", str(place))
    return place


def test_another_study_is_opened_and_a_page_of_the_one_before_can_change_nothing(
    insider: httpx.Client, settled: Settled, home: Path
) -> None:
    before = settled()["study"]
    answer = insider.post("/api/start", json={"wanted": "new", "title": "Second study"})
    assert answer.json() == {"go_to": "/study"}
    assert (home / "Bonewright" / "second-study" / "study.toml").is_file()
    assert "Second study" in insider.get("/study").text
    decision = {"table": "specimens", "row_id": "bone-1", "decision": "keep", "reason": "x"}
    refused = insider.post("/api/decisions", json=decision, headers={"x-bonewright-study": before})
    assert refused.status_code == 409
    assert "Another study was opened" in refused.json()["error"]


def test_the_demo_is_copied_once_and_opened_again_as_it_was_left(home: Path) -> None:
    reception = Reception(None)
    assert reception.room is None
    reception.open_demo()
    assert reception.room is not None
    folder = reception.room.folder
    assert folder == (home / "Bonewright" / "demo").resolve()
    assert is_copy_of_demo(folder)
    (folder / "files" / "own.txt").write_text("mine", encoding="utf-8")
    reception.open_demo()
    assert (folder / "files" / "own.txt").exists()
    reception.close()


@pytest.mark.usefixtures("home")
def test_a_broken_copy_of_the_demo_is_put_back(insider: httpx.Client) -> None:
    insider.post("/api/start", json={"wanted": "demo"})
    assert "Put it back as it was" in insider.get("/study").text
    table = shelf() / "demo" / "tables" / "specimens.csv"
    whole = table.read_bytes()
    table.write_text("nonsense", encoding="utf-8")
    assert insider.get("/api/state").json()["problems"] > 0
    answer = insider.post("/api/history/restore", json={"to": "step 1"})
    assert answer.status_code == 200
    assert table.read_bytes() == whole
    assert insider.get("/api/state").json()["problems"] == 0


def test_what_cannot_be_opened_is_told_in_words(insider: httpx.Client, home: Path) -> None:
    copy_demo(home / "full")
    for asked, words in (
        ({"wanted": "open", "folder": str(home)}, "holds no study"),
        ({"wanted": "open", "folder": "somewhere"}, "does not say where it stands"),
        ({"wanted": "new", "title": "x", "folder": str(home / "full")}, "not an empty folder"),
        ({"wanted": "new", "title": "  "}, "needs a title"),
    ):
        answer = insider.post("/api/start", json=asked)
        assert answer.status_code == 422
        assert words in answer.json()["error"]


def test_folders_are_listed_and_studies_told_apart(insider: httpx.Client, home: Path) -> None:
    new_study(home / "a-study")
    (home / "plain").mkdir()
    (home / ".hidden").mkdir()
    found = insider.get("/api/folders").json()
    assert [(one["name"], one["is_study"]) for one in found["folders"]] == [
        ("a-study", True),
        ("plain", False),
    ]
    assert found["above"] == str(home.resolve().parent)


@pytest.mark.usefixtures("home")
def test_without_a_study_every_page_leads_to_the_start_page(newcomer: httpx.Client) -> None:
    as_a_person = {"accept": "text/html"}
    assert "Open the demo" in newcomer.get("/", headers=as_a_person).text
    assert newcomer.get("/body", headers=as_a_person).url.path == "/start"
    assert newcomer.get("/api/state").status_code == 409


def _steps(folder: Path) -> tuple[FirstStep, ...]:
    reception = Reception(folder)
    assert reception.room is not None
    steps = first_steps(reception.room.look())
    reception.close()
    return steps


def test_the_first_steps_look_at_the_tables_as_they_stand(tmp_path: Path) -> None:
    folder = tmp_path / "study"
    new_study(folder)
    assert [step.state for step in _steps(folder)] == ["next", *["later"] * 5]
    settings = folder / "study.toml"
    settings.write_text(
        settings.read_text(encoding="utf-8").replace("the lost animal", "great rail"),
        encoding="utf-8",
    )
    (folder / "tables" / "specimens.csv").write_text(
        "materialEntityID,element,side\nb1,femur,left\nb2,humerus,left\n", encoding="utf-8"
    )
    steps = _steps(folder)
    assert [step.state for step in steps[:3]] == ["done", "done", "next"]
    assert steps[1].found == "1 leg bones"
    (folder / "tables" / "measurements.csv").write_text(
        "measurementID,materialEntityID,measurementType,measurementValue\n"
        "m1,b1,GL,171\nm2,b2,GL,80\nm3,b1,SC,\n",
        encoding="utf-8",
    )
    steps = _steps(folder)
    assert (steps[2].state, steps[2].found) == ("done", "femur GL 1")
    assert steps[3].state == "next"


def test_what_the_study_is_about_is_written_and_every_other_line_stays(
    insider: httpx.Client, folder: Path, settled: Settled
) -> None:
    settled()
    path = folder / "study.toml"
    path.write_text("# a remark of mine\n" + path.read_text(encoding="utf-8"), encoding="utf-8")
    settled()
    about = {"title": "New title", "question": "How tall?", "name": "tall rail", "place": "Here"}
    assert insider.post("/api/about", json=about).status_code == 200
    text = path.read_text(encoding="utf-8")
    assert text.startswith("# a remark of mine\n")
    assert 'title = "New title"' in text
    assert 'place = "Here"' in text
    assert "invented = true" in text
    assert "New title" in insider.get("/study").text


def test_a_choice_is_written_with_its_reason_and_an_impossible_one_is_not(
    insider: httpx.Client, folder: Path, settled: Settled
) -> None:
    settled()
    path = folder / "study.toml"
    choice = {"ranges": {"body_density": [0.8, 0.9, 1.0]}, "reason": "Air sacs like a swan's."}
    assert insider.post("/api/choices", json=choice).status_code == 200
    text = path.read_text(encoding="utf-8")
    assert "[choices.body_density]" in text
    assert "Air sacs like a swan's." in text
    for wrong in (
        {"ranges": {"body_density": [1.0, 0.9, 0.8]}, "reason": "x"},
        {"ranges": {"no_such": [0.8, 0.9, 1.0]}, "reason": "x"},
        {"ranges": {"average": [0.8, 0.9, 1.0]}, "reason": "x"},
        {"stem_age": [1, 2], "reason": "x"},
        {"ranges": {"body_density": [0.8, 0.9, 1.0]}, "reason": "  "},
    ):
        assert insider.post("/api/choices", json=wrong).status_code == 422
    assert path.read_text(encoding="utf-8") == text


def test_the_density_of_a_tissue_is_written_into_its_row_with_the_reason(
    insider: httpx.Client, folder: Path, settled: Settled
) -> None:
    settled()
    table = folder / "tables" / "tissues.csv"
    for tissue, density in (("bone", 1.3), ("muscle", 1.07), ("bone", 1.25)):
        told = {
            "tissues": {tissue: [density - 0.05, density, density + 0.1]},
            "reason": f"{tissue} weighed in water.",
        }
        assert insider.post("/api/choices", json=told).status_code == 200
    with table.open(encoding="utf-8", newline="") as file:
        rows = {row["tissue"]: row for row in csv.DictReader(file)}
    assert list(rows) == ["bone", "muscle"]
    cells = [rows["bone"][name] for name in ("densityLow", "density", "densityHigh")]
    assert cells == ["1.2", "1.25", "1.35"]
    assert rows["bone"]["tissueRemarks"] == "bone weighed in water."
    standing = table.read_bytes()
    for wrong in ({"feathers": [1.0, 1.1, 1.2]}, {"fat": [9.0, 9.1, 9.2]}):
        answer = insider.post("/api/choices", json={"tissues": wrong, "reason": "x"})
        assert answer.status_code == 422
    assert table.read_bytes() == standing


@pytest.mark.parametrize("named", ["/" + "a" * 3000, "/tmp/\0x", "/proc/none/such", "\ud800"])  # noqa: S108
def test_a_folder_that_no_disk_can_hold_is_refused_in_words(
    insider: httpx.Client, named: str
) -> None:
    for wanted in ("open", "new"):
        body = json.dumps({"wanted": wanted, "title": "A rail", "folder": named})
        headers = {"content-type": "application/json"}
        answer = insider.post("/api/start", content=body, headers=headers)
        assert answer.status_code == 422
        assert set(answer.json()) == {"error", "remedy", "problems"}
    if named != "\ud800":
        assert insider.get("/api/folders", params={"at": named}).status_code in (404, 422)
