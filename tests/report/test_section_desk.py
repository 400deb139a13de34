import csv
import io
import shutil
from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image
from typer.testing import CliRunner

from bonewright.cli import app
from bonewright.errors import BonewrightError, StudyProblems
from bonewright.report.section_desk import (
    TraceChoices,
    accept_scan,
    accept_trace,
    cut_scan,
    traced,
)
from bonewright.study.load import load_study

DEMO = Path(__file__).parents[2] / "demo"


def tube_slice(n: int = 90, *, size: float = 1.0) -> np.ndarray:
    axis = np.arange(n) - (n - 1) / 2
    x, y = axis[None, :], -axis[:, None]
    bone = ((x / (36 * size)) ** 2 + (y / (30 * size)) ** 2 < 1) & (
        (x / (25 * size)) ** 2 + (y / (20 * size)) ** 2 >= 1
    )
    return np.where(bone, 190, 30).astype(np.uint8)


@pytest.fixture
def picture(tmp_path: Path) -> Path:
    path = tmp_path / "break.png"
    Image.fromarray(tube_slice()).save(path)
    return path


@pytest.fixture
def stack(tmp_path: Path) -> Path:
    path = tmp_path / "scan.tif"
    slices = np.stack([tube_slice(size=1 - 0.2 * place / 160) for place in range(160)])
    tifffile.imwrite(path, slices, photometric="minisblack")
    return path


@pytest.fixture
def study(tmp_path: Path) -> Path:
    return Path(shutil.copytree(DEMO, tmp_path / "study"))


def test_a_traced_contour_is_shown_over_its_picture_with_a_scale(picture: Path) -> None:
    found = traced(picture, "break.png", pixel_mm=0.25, choices=TraceChoices())
    assert found.traced.properties.area_mm2 == pytest.approx(
        np.pi * (36 * 30 - 25 * 20) * 0.25**2, rel=0.01
    )
    for part in ("<image", "data:image/png", "5 mm", "Accept the contour only if"):
        assert part in found.sheet_svg


def test_inverted_grey_is_refused_until_bone_is_said_to_be_dark(tmp_path: Path) -> None:
    path = tmp_path / "negative.png"
    Image.fromarray(255 - tube_slice()).save(path)
    with pytest.raises(StudyProblems) as caught:
        traced(path, "negative.png", pixel_mm=0.25, choices=TraceChoices())
    assert caught.value.problems[0].file == "negative.png"
    assert "inverted" in caught.value.problems[0].found
    found = traced(path, "negative.png", pixel_mm=0.25, choices=TraceChoices(dark_bone=True))
    assert len(found.traced.rings_mm) == 2


def test_an_accepted_contour_is_an_outline_of_the_study_and_is_not_overwritten(
    picture: Path, study: Path
) -> None:
    found = traced(picture, "break.png", pixel_mm=0.25, choices=TraceChoices()).traced
    file = accept_trace(study, "sec 50", found)
    assert (study / "files" / file).is_file()
    with pytest.raises(BonewrightError):
        accept_trace(study, "sec 50", found)


def test_a_scan_becomes_rows_of_sections_and_curves_along_the_bone(
    stack: Path, study: Path
) -> None:
    scan = cut_scan(
        stack,
        "scan.tif",
        pixel_mm=0.5,
        between_slices_mm=1.0,
        proximal_first=True,
        choices=TraceChoices(),
    )
    assert len(list(csv.DictReader(io.StringIO(scan.curves_csv)))) == 99
    before = len(load_study(study).sections)
    owner = {"element": "femur", "materialEntityID": "bone-134"}
    assert accept_scan(study, "ct", scan, every_percent=10, owner=owner) == 9
    sections = load_study(study).sections
    assert len(sections) == before + 9
    added = [section for section in sections if section.section_id.startswith("ct-")]
    assert {section.specimen_id for section in added} == {"bone-134"}
    assert all(section.outline_mm is not None for section in added)
    assert all(section.axis_offset_mm == pytest.approx(0, abs=0.2) for section in added)
    with pytest.raises(BonewrightError):
        accept_scan(study, "ct", scan, every_percent=10, owner=owner)


def test_the_commands_trace_and_cut_leave_sheets_to_look_at(
    picture: Path, stack: Path, study: Path
) -> None:
    runner = CliRunner()
    shown = runner.invoke(
        app, ["trace", str(study), str(picture), "--bar-mm", "10", "--bar-pixels", "40"]
    )
    assert shown.exit_code == 0
    assert (study / "results" / "break-contour.svg").is_file()
    cut = runner.invoke(
        app, ["cut", str(study), str(stack), "--pixel-mm", "0.5", "--between-mm", "1"]
    )
    assert cut.exit_code == 0
    assert (study / "results" / "scan-contours.svg").is_file()
    assert (study / "results" / "scan-along-bone.csv").is_file()
    assert not list((study / "files" / "outlines").glob("scan*"))


def test_wrong_usage_of_the_commands_ends_with_2(picture: Path, study: Path) -> None:
    runner = CliRunner()
    base = ["trace", str(study), str(picture), "--bar-pixels", "40"]
    assert runner.invoke(app, [*base, "--bar-mm", "0"]).exit_code == 2
    assert runner.invoke(app, [*base, "--bar-mm", "9", "--rule", "guess"]).exit_code == 2
    nobody = ["cut", str(study), str(picture), "--accept", "x"]
    assert runner.invoke(app, nobody).exit_code == 2
