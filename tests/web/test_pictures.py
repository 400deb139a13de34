"""The marking desk's server: pictures shown as made here, marks and scores kept as rows."""

import csv
import io
from pathlib import Path
from typing import TYPE_CHECKING, Any

import httpx
import pytest
from PIL import Image

if TYPE_CHECKING:
    from conftest import Served

PICTURES = """pictureID,title,eventDate,drawnFrom,pictureFile
pic-1,a sketch,1650,life,sketch.png
pic-2,a drawing with a script,1651,unknown,drawing.svg
pic-3,a picture from outside,1652,unknown,../../secret.png
pic-4,a picture without a file,1653,unknown,
"""
SVG = '<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'


@pytest.fixture
def folder(folder: Path) -> Path:
    files = folder / "files"
    files.mkdir()
    (folder / "tables" / "pictures.csv").write_text(PICTURES, encoding="utf-8")
    Image.new("RGB", (80, 60), "tan").save(files / "sketch.png")
    Image.new("RGB", (8, 6), "red").save(folder.parent / "secret.png")
    (files / "drawing.svg").write_text(SVG, encoding="utf-8")
    return folder


def rows(served: "Served", table: str) -> list[dict[str, str]]:
    path = served.folder / "tables" / f"{table}.csv"
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def marks(insider: httpx.Client, **changes: Any) -> dict[str, Any]:
    found = insider.get("/api/marks/pic-1", params={"observer": "A", "round": 1}).json()
    picture = next(p for p in insider.get("/api/pictures").json()["pictures"] if p["id"] == "pic-1")
    return {
        "observer": "A",
        "round": 1,
        "checksum": picture["checksum"],
        "version": found["version"],
        "points": [
            {"name": "bill tip", "x": 10.04, "y": 20},
            *({"name": "outline", "order": n, "x": 5.0 * n, "y": 7.0} for n in (1, 2, 3)),
        ],
        **changes,
    }


def test_every_picture_is_listed_with_its_measures_or_with_why_it_cannot_be_marked(
    insider: httpx.Client,
) -> None:
    desk = insider.get("/api/pictures").json()
    by_id = {picture["id"]: picture for picture in desk["pictures"]}
    assert (by_id["pic-1"]["width"], by_id["pic-1"]["height"]) == (80, 60)
    assert by_id["pic-1"]["fault"] == ""
    assert "PNG" in by_id["pic-2"]["fault"]
    assert by_id["pic-3"]["fault"]
    assert by_id["pic-4"]["fault"]
    assert {score["kind"] for score in desk["scores"]} == {"fatness", "posture", "plumage"}


def test_a_picture_is_handed_out_as_a_png_made_here(insider: httpx.Client) -> None:
    answer = insider.get("/picture/pic-1.png")
    assert answer.headers["content-type"] == "image/png"
    assert Image.open(io.BytesIO(answer.content)).size == (80, 60)


@pytest.mark.parametrize("name", ["pic-2", "pic-3", "pic-4", "pic-9", "..%2Fstudy"])
def test_a_script_or_a_file_from_outside_is_never_handed_out(
    insider: httpx.Client, name: str
) -> None:
    answer = insider.get(f"/picture/{name}.png")
    assert answer.status_code in {404, 422}
    assert b"alert" not in answer.content
    assert answer.json()["remedy"]


def test_marks_are_kept_as_numbers_with_the_checksum_and_replace_their_own_round_only(
    insider: httpx.Client, served: "Served"
) -> None:
    assert insider.post("/api/marks/pic-1", json=marks(insider)).status_code == 200
    kept = rows(served, "landmarks")
    assert [row["landmark"] for row in kept] == ["bill tip", *["outline"] * 3]
    assert (kept[0]["xPixel"], kept[0]["yPixel"]) == ("10.0", "20.0")
    assert len({row["landmarkID"] for row in kept}) == 4
    assert all(len(row["pictureChecksum"]) == 64 for row in kept)
    other = marks(insider, observer="B", version=_empty_version(insider))
    assert insider.post("/api/marks/pic-1", json=other).status_code == 200
    fewer = marks(insider, points=[{"name": "crown", "x": 1, "y": 2}])
    assert insider.post("/api/marks/pic-1", json=fewer).status_code == 200
    kept = rows(served, "landmarks")
    assert [row["landmark"] for row in kept if row["measurementDeterminedBy"] == "A"] == ["crown"]
    assert sum(row["measurementDeterminedBy"] == "B" for row in kept) == 4
    assert len({row["landmarkID"] for row in kept}) == 5


def _empty_version(insider: httpx.Client) -> str:
    answer = insider.get("/api/marks/pic-1", params={"observer": "nobody", "round": 1})
    return str(answer.json()["version"])


def test_an_observer_sees_the_marks_of_nobody_else_and_of_no_other_round(
    insider: httpx.Client,
) -> None:
    insider.post("/api/marks/pic-1", json=marks(insider))
    for observer, turn, count in (("A", 1, 4), ("A", 2, 0), ("B", 1, 0)):
        found = insider.get("/api/marks/pic-1", params={"observer": observer, "round": turn})
        assert len(found.json()["points"]) == count


def test_marks_changed_meanwhile_or_on_a_replaced_file_are_not_written_over(
    insider: httpx.Client, served: "Served"
) -> None:
    stale = marks(insider)
    assert insider.post("/api/marks/pic-1", json=stale).status_code == 200
    answer = insider.post("/api/marks/pic-1", json={**stale, "points": []})
    assert answer.status_code == 409
    assert len(rows(served, "landmarks")) == 4
    fresh = marks(insider)
    Image.new("RGB", (80, 60), "navy").save(served.folder / "files" / "sketch.png")
    answer = insider.post("/api/marks/pic-1", json=fresh)
    assert answer.status_code == 409
    assert "replaced" in answer.json()["error"]


@pytest.mark.parametrize(
    "changes",
    [
        {"points": [{"name": "antler", "x": 1, "y": 1}]},
        {"points": [{"name": "crown", "x": -1, "y": 1}]},
        {"points": [{"name": "crown", "x": "1e999", "y": 1}]},
        {"observer": ""},
        {"round": 0},
    ],
)
def test_marks_that_make_no_sense_are_refused_with_words(
    insider: httpx.Client, served: "Served", changes: dict[str, Any]
) -> None:
    answer = insider.post("/api/marks/pic-1", json=marks(insider, **changes))
    assert answer.status_code == 422
    assert answer.json()["error"]
    assert not (served.folder / "tables" / "landmarks.csv").exists()


def test_a_scale_is_kept_with_the_picture(insider: httpx.Client, served: "Served") -> None:
    scaled = marks(insider, scale_length="200", scale_unit="mm")
    assert insider.post("/api/marks/pic-1", json=scaled).status_code == 200
    row = rows(served, "pictures")[0]
    assert (row["scaleLength"], row["scaleUnit"]) == ("200", "mm")
    assert [row["title"] for row in rows(served, "pictures")][1:] == [
        "a drawing with a script",
        "a picture from outside",
        "a picture without a file",
    ]


def test_scores_replace_their_scorers_earlier_ones_and_an_empty_one_goes(
    insider: httpx.Client, served: "Served"
) -> None:
    def score(scorer: str, **scores: str) -> int:
        body = {"scorer": scorer, "scores": scores}
        return insider.post("/api/scores/pic-1", json=body).status_code

    assert score("A", fatness="3.5", posture="2") == 200
    assert score("B", fatness="1") == 200
    assert score("A", fatness="4", posture="") == 200
    kept = {
        (row["measurementDeterminedBy"], row["measurementType"]): row["measurementValue"]
        for row in rows(served, "picture_marks")
    }
    assert kept == {("A", "fatness"): "4", ("B", "fatness"): "1"}
    assert score("A", beauty="5") == 422


def test_a_stranger_sees_no_picture(stranger: httpx.Client) -> None:
    for address in ("/picture/pic-1.png", "/api/pictures"):
        assert stranger.get(address).status_code == 403
