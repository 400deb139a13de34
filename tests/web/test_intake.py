"""Files and spreadsheets brought in over HTTP."""

import io
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import quote

import httpx
import PIL.Image
import pytest

Send = Callable[..., httpx.Response]

SHEET = (
    "Inv.-Nr.;Knochen;Seite;größte Länge;Kiste\n"
    "A 12;Femur;li;171,5;7\n"
    "A 13;Femur;re;168,9;7\n"
    "A 14;Femur;re;viel;8\n"
)


@pytest.fixture
def send(insider: httpx.Client) -> Send:
    def post(name: str, content: bytes | str, *, stack: str = "") -> httpx.Response:
        return insider.post(
            "/api/incoming",
            content=content,
            headers={
                "content-type": "application/octet-stream",
                "x-file-name": quote(name),
                "x-file-stack": quote(stack),
            },
        )

    return post


def _picture(colour: int = 90) -> bytes:
    out = io.BytesIO()
    PIL.Image.new("RGB", (12, 8), (colour, 0, 0)).save(out, "PNG")
    return out.getvalue()


def test_a_picture_is_received_looked_at_and_taken_into_the_study(
    insider: httpx.Client, send: Send, folder: Path
) -> None:
    arrival = send("../Tafel 3?.png", _picture()).json()
    assert (arrival["kind"], arrival["name"]) == ("picture", "Tafel 3_.png")
    assert list((folder / "files").rglob("*.png")) == []
    taken = insider.post("/api/files", json={"key": arrival["key"]}).json()
    assert taken["file"] == "pictures/Tafel 3_.png"
    assert (taken["table"], taken["cells"]) == ("pictures", {"pictureFile": taken["file"]})
    assert (folder / "files" / taken["file"]).read_bytes() == _picture()
    again = send("Tafel 3?.png", _picture()).json()
    assert insider.post("/api/files", json={"key": again["key"]}).json()["is_new"] is False
    assert insider.post("/api/files", json={"key": again["key"]}).status_code == 404
    assert list((folder / ".incoming").rglob("*.png")) == []


def test_slices_stay_together_in_a_folder_of_their_own(
    insider: httpx.Client, send: Send, folder: Path
) -> None:
    for number in (1, 2):
        arrival = send(f"{number:03d}.png", _picture(number), stack="left leg").json()
        taken = insider.post("/api/files", json={"key": arrival["key"]}).json()
    assert taken["table"] == "sections"
    assert taken["cells"]["sectionID"] == "left-leg-50"
    assert taken["cells"]["sectionRemarks"] == "slices in files/stacks/left leg"
    assert taken["cells"]["element"] == ""
    femur = send("001.png", _picture(3), stack="Femur AAA 7").json()
    taken = insider.post("/api/files", json={"key": femur["key"]}).json()
    assert taken["cells"]["element"] == "femur"
    stack = folder / "files" / "stacks" / "left leg"
    assert sorted(path.name for path in stack.iterdir()) == ["001.png", "002.png"]


def test_what_a_study_does_not_take_is_refused_in_the_one_shape_and_nothing_stays(
    insider: httpx.Client, send: Send, folder: Path
) -> None:
    for name, content in (("plate.png", "no picture"), ("notes.docx", "x"), ("", "x")):
        answer = send(name, content)
        assert answer.status_code == 422
        assert set(answer.json()) == {"error", "remedy", "problems"}
    kept = [path for path in (folder / ".incoming").rglob("*") if path.is_file()]
    assert kept == []
    arrival = send("plate.png", _picture()).json()
    insider.post("/api/incoming/forget", json={"key": arrival["key"]})
    assert insider.post("/api/files", json={"key": arrival["key"]}).status_code == 404


def test_a_file_is_received_from_this_page_only(
    insider: httpx.Client, stranger: httpx.Client
) -> None:
    headers = {"content-type": "application/octet-stream", "x-file-name": "a.png"}
    assert stranger.post("/api/incoming", content=_picture(), headers=headers).status_code == 403
    for wrong in (
        {"x-bonewright-page": "0"},
        {"origin": "http://example.org"},
        {"content-type": "text/plain"},
    ):
        answer = insider.post("/api/incoming", content=_picture(), headers={**headers, **wrong})
        assert answer.status_code in (403, 415)
    # No other address takes such a body.
    assert insider.post("/api/files", content=b"{}", headers=headers).status_code == 415


def test_a_tree_brought_in_becomes_the_tree_of_the_study(
    insider: httpx.Client, send: Send, folder: Path
) -> None:
    arrival = send("new.nwk", "((a:1,b:1):1,c:2);").json()
    taken = insider.post("/api/files", json={"key": arrival["key"]}).json()
    assert insider.post("/api/tree", json={"file": taken["file"]}).status_code == 200
    assert 'file = "trees/new.nwk"' in (folder / "study.toml").read_text(encoding="utf-8")


def test_a_spreadsheet_is_shown_corrected_imported_and_remembered(
    insider: httpx.Client, send: Send, folder: Path
) -> None:
    key = send("Sammlung.csv", SHEET).json()["key"]
    before = (folder / "tables" / "specimens.csv").read_bytes()
    plan: dict[str, Any] = insider.post("/api/import/plan", json={"key": key}).json()
    columns = {column["header"]: column for column in plan["sheets"][0]["columns"]}
    assert columns["größte Länge"]["code"] == "GL"
    assert columns["Knochen"]["column"] == "element"
    assert not columns["Kiste"]["understood"]
    assert columns["Kiste"]["samples"] == ["7", "8"]
    assert plan["waits_for"] == ""
    assert plan["preview"]["added"]["Measurements"] == 2
    assert plan["preview"]["kept_as_remarks"] == ["Sammlung, row 4, größte Länge: viel"]
    assert (folder / "tables" / "specimens.csv").read_bytes() == before

    told = {"key": key, "told": {"Kiste": "organismID"}, "institution": "CCC"}
    plan = insider.post("/api/import/plan", json=told).json()
    columns = {column["header"]: column for column in plan["sheets"][0]["columns"]}
    assert (columns["Kiste"]["column"], columns["Kiste"]["told"]) == ("organismID", True)
    done = insider.post("/api/import/rows", json=told).json()
    assert list(done["added"].values()) == [1, 3, 2]
    text = (folder / "tables" / "specimens.csv").read_text(encoding="utf-8")
    assert "CCC,A 12" in text
    assert insider.get("/api/history").json()["undo"]["what"] == "Import of Sammlung.csv"

    key = send("Sammlung.csv", SHEET).json()["key"]
    plan = insider.post("/api/import/plan", json={"key": key}).json()
    columns = {column["header"]: column for column in plan["sheets"][0]["columns"]}
    assert columns["Kiste"]["column"] == "organismID"
    assert plan["institution"] == "CCC"
    assert set(plan["preview"]["added"].values()) == {0}


def test_a_spreadsheet_that_names_no_bones_waits_for_one(insider: httpx.Client, send: Send) -> None:
    key = send("x.csv", "Nr;GL\n1;171,5\n").json()["key"]
    plan = insider.post("/api/import/plan", json={"key": key}).json()
    assert plan["waits_for"]
    assert plan["preview"] is None
    told = {"key": key, "element": "femur"}
    assert insider.post("/api/import/plan", json=told).json()["preview"]["added"]
    wrong = insider.post("/api/import/plan", json={"key": key, "element": "leg"})
    assert wrong.status_code == 422


def test_problems_that_an_import_would_bring_are_told_beforehand(
    insider: httpx.Client, send: Send
) -> None:
    sheet = "Nr;Knochen;GL;Lm\n1;Humerus;171,5;80\n"
    key = send("x.csv", sheet).json()["key"]
    preview = insider.post("/api/import/plan", json={"key": key}).json()["preview"]
    assert [problem["column"] for problem in preview["problems"]] == ["measurementType"]


def test_a_darwin_core_archive_is_shown_and_imported(
    insider: httpx.Client, send: Send, folder: Path, tmp_path: Path
) -> None:
    from bonewright.study.darwin_core import export_archive
    from bonewright.study.load import load_study

    path = tmp_path / "bones.zip"
    export_archive(load_study(folder), path)
    content = path.read_bytes()
    key = send("bones.zip", content).json()["key"]
    plan = insider.post("/api/import/plan", json={"key": key}).json()
    assert plan["sheets"] == []
    assert plan["preview"]["known"]["Measurements"] == 3
    assert plan["preview"]["added"]["Specimens"] == 0
    assert insider.post("/api/import/rows", json={"key": key}).status_code == 200
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("nothing.txt", "x")
    key = send("empty.zip", path.read_bytes()).json()["key"]
    answer = insider.post("/api/import/plan", json={"key": key})
    assert answer.status_code == 422
    assert "Darwin Core" in answer.json()["error"]


@pytest.mark.parametrize("file", ["../study.toml", "/etc/passwd", "trees/none.nwk", "a\x00b", "."])
def test_only_a_file_of_the_study_becomes_its_tree(
    insider: httpx.Client, folder: Path, file: str
) -> None:
    before = (folder / "study.toml").read_bytes()
    assert insider.post("/api/tree", json={"file": file}).status_code == 404
    assert (folder / "study.toml").read_bytes() == before
