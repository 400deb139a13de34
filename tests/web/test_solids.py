"""The grown body handed over as solids."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest
import trimesh

Settled = Callable[[], dict[str, Any]]

BONES = (
    ("pelvis", "midline", "AA", 92),
    ("pelvis", "midline", "LV", 171),
    ("skull", "midline", "GB", 52),
    ("skull", "midline", "GL", 148),
    ("mandible", "midline", "GL", 121),
    ("femur", "left", "GL", 164),
    ("tibiotarsus", "left", "GL", 259),
    ("tarsometatarsus", "left", "GL", 147),
    ("humerus", "left", "GL", 98),
    ("ulna", "left", "GL", 71),
)


@pytest.fixture
def skeleton(folder: Path) -> None:
    bones = "".join(
        f"bone-{number},AAA,{number},{element},{side},unknown,adult,bone,complete\n"
        for number, (element, side, _, _) in enumerate(BONES)
    )
    head = "materialEntityID,institutionCode,catalogNumber,element,side,sex,lifeStage,"
    (folder / "tables" / "specimens.csv").write_text(head + "preparations,preservation\n" + bones)
    rows = "".join(
        f"m-{number},bone-{number},{code},{value},mm\n"
        for number, (_, _, code, value) in enumerate(BONES)
    )
    head = "measurementID,materialEntityID,measurementType,measurementValue,measurementUnit\n"
    (folder / "tables" / "measurements.csv").write_text(head + rows)


def test_without_a_body_there_is_no_solid_and_no_link_to_one(
    insider: httpx.Client, settled: Settled
) -> None:
    settled()
    answer = insider.get("/solid/body-mean.glb")
    assert answer.status_code == 404
    assert answer.json()["remedy"]
    assert "body-mean.glb" not in insider.get("/body").text


@pytest.mark.usefixtures("skeleton")
def test_each_solid_is_a_closed_body_heavier_in_its_plumage(
    insider: httpx.Client, settled: Settled
) -> None:
    settled()
    assert "body-mean.glb" in insider.get("/body").text
    volumes = {}
    for name in ("lean", "fat", "plumage"):
        answer = insider.get(f"/solid/body-{name}.glb")
        assert answer.status_code == 200
        stream = trimesh.util.wrap_as_stream(answer.content)
        mesh = trimesh.load_scene(stream, file_type="glb").to_mesh()
        assert mesh.is_watertight
        volumes[name] = mesh.volume
    assert 0.005 < volumes["lean"] < volumes["fat"] < volumes["plumage"] < 0.05


@pytest.mark.usefixtures("skeleton")
def test_a_solid_of_no_such_name_is_refused(insider: httpx.Client, settled: Settled) -> None:
    settled()
    assert insider.get("/solid/body-thin.glb").status_code == 404


@pytest.mark.usefixtures("skeleton")
def test_the_outline_is_as_high_in_mm_as_the_solid_at_the_scale_asked_for(
    insider: httpx.Client, settled: Settled
) -> None:
    settled()
    stream = trimesh.util.wrap_as_stream(insider.get("/solid/body-mean.glb").content)
    low, high = trimesh.load_scene(stream, file_type="glb").bounds
    for scale in (1, 4):
        svg = insider.get("/round/outline.svg", params={"scale": scale, "azimuth": 30}).text
        cut = re.search(r'<g id="cut".*?</g>', svg, re.DOTALL)
        assert cut is not None
        heights = [float(y) for y in re.findall(r"[ML][\d.]+ ([\d.]+)", cut[0])]
        assert max(heights) - min(heights) == pytest.approx(
            1000 * (high - low)[1] / scale, abs=0.3 / scale
        )


@pytest.mark.usefixtures("skeleton")
def test_what_is_in_the_round_is_told_and_a_wrong_end_is_refused(
    insider: httpx.Client, settled: Settled
) -> None:
    settled()
    told = insider.get("/api/round").json()
    assert {"left hip", "right knee", "tip of the beak"} <= {p["name"] for p in told["points"]}
    ends = {"first": {"name": "left hip"}, "second": {"name": "left knee"}}
    found = insider.post("/api/round/distance", json=ends).json()
    assert found["middle_mm"] == pytest.approx(164, rel=0.02)
    assert found["href"] == "/skeleton#skeleton.mean.femur.GL"
    wrong = insider.post("/api/round/distance", json=ends | {"second": {"name": "left wheel"}})
    assert wrong.status_code == 404
    assert wrong.json()["remedy"]
