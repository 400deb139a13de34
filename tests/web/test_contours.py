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
    assert insider.get("/api/contour/pictures").json()["files"] == ["blank.png", "break.png"]


def test_the_contour_is_shown_over_its_picture(insider: httpx.Client) -> None:
    found = insider.post("/api/contour/look", json=CHOICES).json()
    head, _, content = found["sheet"].partition(",")
    assert head == "data:image/svg+xml;base64"
    assert b"break.png" in base64.b64decode(content)


def test_a_kept_contour_is_an_outline_of_the_study(insider: httpx.Client, served: "Served") -> None:
    kept = insider.post("/api/contour/accept", json={**CHOICES, "name": "sec-1"}).json()
    assert (served.folder / "files" / kept["file"]).is_file()
    again = insider.post("/api/contour/accept", json={**CHOICES, "name": "sec-1"})
    assert again.status_code >= 400
    assert "already" in again.json()["error"]


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
