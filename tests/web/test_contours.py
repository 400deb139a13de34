"""Tracing a section in a picture over HTTP: listed, shown, kept, refused."""

import base64
from pathlib import Path
from typing import TYPE_CHECKING, Any

import httpx
import numpy as np
import pytest
from PIL import Image

if TYPE_CHECKING:
    from conftest import Served

CHOICES: dict[str, Any] = {"file": "break.png", "bar_mm": 10.0, "bar_pixels": 40.0}


@pytest.fixture
def folder(folder: Path) -> Path:
    axis = np.arange(80) - 39.5
    x, y = axis[None, :], -axis[:, None]
    bone = ((x / 30) ** 2 + (y / 26) ** 2 < 1) & ((x / 20) ** 2 + (y / 17) ** 2 >= 1)
    files = folder / "files"
    files.mkdir()
    Image.fromarray(np.where(bone, 200, 20).astype(np.uint8)).save(files / "break.png")
    Image.new("L", (40, 40), 90).save(files / "blank.png")
    Image.new("L", (40, 40), 90).save(folder.parent / "outside.png")
    return folder


def test_pictures_in_the_files_are_listed(insider: httpx.Client) -> None:
    offered = insider.get("/api/contour/pictures").json()
    assert offered["files"] == ["blank.png", "break.png"]
    assert offered["bones"] == ["bone-1", "bone-2", "bone-3"]
    assert offered["waiting"] == []


def test_a_picture_is_shown_with_its_size_in_pixels(insider: httpx.Client) -> None:
    shown = insider.post("/api/contour/picture", json={"file": "break.png"}).json()
    assert shown["image"].startswith("data:image/png;base64,")
    assert (shown["width"], shown["height"]) == (80, 80)
    assert insider.post("/api/contour/picture", json={"file": "../x.png"}).status_code == 404


def test_the_contour_is_shown_over_its_picture(insider: httpx.Client) -> None:
    found = insider.post("/api/contour/look", json=CHOICES).json()
    head, _, content = found["sheet"].partition(",")
    assert head == "data:image/svg+xml;base64"
    assert b"break.png" in base64.b64decode(content)


NEW_ROW = {"bone": "bone-2", "element": "femur", "position": "48", "bone_length_mm": "168.4"}


def test_a_kept_contour_is_a_row_of_the_study(insider: httpx.Client, served: "Served") -> None:
    keep = {**CHOICES, "name": "sec-1", **NEW_ROW}
    kept = insider.post("/api/contour/accept", json=keep).json()
    assert (served.folder / "files" / kept["file"]).is_file()
    assert (kept["section"], kept["row_is_new"]) == ("sec-1", True)
    (row,) = insider.get("/api/tables/sections").json()["rows"]
    assert {"sec-1", "bone-2", "femur", "48", "168.4", kept["file"], "mm"} <= set(row["cells"])
    again = insider.post("/api/contour/accept", json=keep)
    assert again.status_code >= 400
    assert "already" in again.json()["error"]


def test_a_row_that_waits_for_its_contour_is_offered_and_filled(
    insider: httpx.Client, served: "Served"
) -> None:
    (served.folder / "tables" / "sections.csv").write_text(
        "sectionID,materialEntityID,element,position,boneLength,outlineFile,measurementAccuracy,"
        "measurementUnit\nsec-7,bone-1,femur,50,171.2,,,mm\n",
        encoding="utf-8",
    )
    assert insider.get("/api/contour/pictures").json()["waiting"] == ["sec-7"]
    kept = insider.post("/api/contour/accept", json={**CHOICES, "name": "sec-7"}).json()
    assert not kept["row_is_new"]
    assert insider.get("/api/contour/pictures").json()["waiting"] == []


def test_a_contour_without_a_row_to_go_to_is_not_kept(
    insider: httpx.Client, served: "Served"
) -> None:
    refused = insider.post("/api/contour/accept", json={**CHOICES, "name": "sec-1"})
    assert refused.status_code >= 400
    assert "position" in refused.json()["error"]
    assert not (served.folder / "files" / "outlines").exists()


@pytest.mark.parametrize(
    "change",
    [
        {"file": "../outside.png"},
        {"file": "absent.png"},
        {"file": "blank.png"},
        {"bar_pixels": 0},
        {"rule": "guess"},
        {"rule": "fixed", "level": 999.0},
        {"dark_bone": True},
    ],
)
def test_what_gives_no_contour_is_refused_in_words(
    insider: httpx.Client, change: dict[str, Any]
) -> None:
    answer = insider.post("/api/contour/look", json=CHOICES | change)
    assert 400 <= answer.status_code < 500
    assert answer.json()["error"]


def test_the_page_of_sections_offers_the_desk(insider: httpx.Client) -> None:
    assert "<contour-desk>" in insider.get("/sections").text


def test_a_stranger_sees_and_keeps_nothing(stranger: httpx.Client) -> None:
    assert stranger.get("/api/contour/pictures").status_code in (401, 403)
    assert stranger.post("/api/contour/look", json=CHOICES).status_code in (401, 403)
