"""Marks on pictures, scales, old units and claims made in them: checked cell by cell."""

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image

from bonewright.errors import Problem
from bonewright.study.load import check_folder, load_study

SETTINGS = '[study]\ntitle = "T"\nquestion = "Q"\ninvented = true\n\n[animal]\nname = "rail"\n'
TABLES = {
    "pictures": "pictureID,title,eventDate,drawnFrom,pictureFile,shows,scaleLength,scaleUnit\n"
    "pic-1,a sketch,1650~,life,a.png,,,\n"
    "pic-2,a photograph,2026-01,dead specimen,b.png,mount,20,cm\n"
    "pic-3,a lost sketch,165X,unknown,,,,\n",
    "landmarks": "landmarkID,pictureID,landmark,pointOrder,xPixel,yPixel,"
    "measurementDeterminedBy,markingRound\n"
    "lm-1,pic-1,crown,,10,20.5,A,1\n"
    "lm-2,pic-1,crown,,11,20,A,2\n"
    "lm-3,pic-1,outline,1,5,5,A,1\n"
    "lm-4,pic-1,outline,2,70,5,A,1\n"
    "lm-5,pic-1,outline,3,70,50,A,1\n",
    "accounts": "accountID,title,eventDate,standing\nacc-1,a letter,1662,eyewitness\n",
    "units": "unitID,unitValue,unitLow,unitHigh,measurementUnit\n"
    "port pound,453,440,470,g\n"
    "old foot,28.3,27,31,cm\n",
    "claims": "claimID,accountID,claimType,measurementValue,measurementUnit,statement,"
    "passageLocation,observerDistance,likelihoodRatio,likelihoodRatioFor\n"
    "clm-1,acc-1,weight,30,port pound,thirty pounds,fol. 3,near,,\n"
    "clm-2,acc-1,height,3,old foot,three feet,,,,\n"
    "clm-3,acc-1,movement,,,it ran,fol. 4,far,4,it could run\n"
    "clm-4,acc-1,length,2,ft,two feet long,,,,\n",
}

Damaged = Callable[..., tuple[Problem, ...]]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    study = tmp_path / "study"
    (study / "tables").mkdir(parents=True)
    (study / "files").mkdir()
    (study / "study.toml").write_text(SETTINGS, encoding="utf-8")
    for name, text in TABLES.items():
        (study / "tables" / f"{name}.csv").write_text(text, encoding="utf-8")
    for name in ("a.png", "b.png"):
        Image.new("RGB", (80, 60), "tan").save(study / "files" / name)
    return study


@pytest.fixture
def damaged(folder: Path) -> Damaged:
    def damage(table: str, old: str, new: str) -> tuple[Problem, ...]:
        path = folder / "tables" / f"{table}.csv"
        text = path.read_text(encoding="utf-8")
        assert text.count(old) == 1
        path.write_text(text.replace(old, new), encoding="utf-8")
        return check_folder(folder)

    return damage


def test_what_is_sound_is_read_in_one_unit_a_quantity(folder: Path) -> None:
    study = load_study(folder)
    sketch, photograph, lost = study.pictures
    assert (sketch.width_px, sketch.height_px, sketch.shows_mount) == (80, 60, False)
    assert (photograph.scale_mm, photograph.shows_mount) == (200.0, True)
    assert (lost.file, lost.checksum) == (None, None)
    assert (sketch.date.earliest, sketch.date.latest) == (1645, 1656)
    pounds, feet, ran, modern = study.claims
    assert pounds.value == pytest.approx(30 * 0.453)
    assert (pounds.low, pounds.high) == (pytest.approx(13.2), pytest.approx(14.1))
    assert pounds.unit == "port pound"
    assert feet.value == pytest.approx(3 * 0.283)
    assert (ran.likelihood_ratio, ran.likelihood_ratio_for) == (4.0, "it could run")
    assert modern.value == pytest.approx(0.6096)
    assert (modern.low, modern.unit) == (None, None)
    assert [mark.order for mark in study.landmarks] == [None, None, 1, 2, 3]
    assert [unit.name for unit in study.units] == ["port pound", "old foot"]


@pytest.mark.parametrize(
    ("table", "old", "new", "place"),
    [
        ("landmarks", "lm-1,pic-1,crown,,10,", "lm-1,pic-1,crown,,810,", (2, "xPixel")),
        ("landmarks", ",20.5,A,1", ",60.5,A,1", (2, "yPixel")),
        ("landmarks", ",20.5,A,1", ",-1,A,1", (2, "yPixel")),
        ("landmarks", "11,20,A,2", "11,20,A,1", (3, "landmark")),
        ("landmarks", "11,20,A,2", "11,20,A,200", (3, "markingRound")),
        ("landmarks", "lm-1,pic-1,crown,,", "lm-1,pic-1,crown,1,", (2, "pointOrder")),
        ("landmarks", "outline,2,", "outline,,", (5, "pointOrder")),
        ("landmarks", "outline,3,", "outline,30,", (6, "pointOrder")),
        ("landmarks", "lm-1,pic-1,crown", "lm-1,pic-3,crown", (2, "pictureID")),
        ("landmarks", "lm-1,pic-1,crown", "lm-1,pic-1,antler", (2, "landmark")),
        ("pictures", ",mount,20,cm", ",mount,20,", (3, "scaleUnit")),
        ("pictures", ",mount,20,cm", ",mount,,cm", (3, "scaleLength")),
        ("pictures", ",mount,20,cm", ",mount,20,kg", (3, "scaleUnit")),
        ("pictures", "a.png", "c.png", (2, "pictureFile")),
        ("units", "453,440", "4530,440", (2, "unitHigh")),
        ("units", "453,440", "453,480", (2, "unitLow")),
        ("units", "453,440", "453,44", (2, "unitLow")),
        ("units", "31,cm", "310,cm", (3, "unitHigh")),
        ("units", "470,g", "470,mL", (2, "measurementUnit")),
        ("claims", "30,port pound", "30,port pond", (2, "measurementUnit")),
        ("claims", "30,port pound", "30,old foot", (2, "measurementUnit")),
        ("claims", "30,port pound", "3e5,port pound", (2, "measurementValue")),
        ("claims", "far,4,it could run", "far,,it could run", (4, "likelihoodRatio")),
        ("claims", "far,4,it could run", "far,4,", (4, "likelihoodRatioFor")),
        ("claims", "far,4,it could run", "far,0,it could run", (4, "likelihoodRatio")),
    ],
)
def test_a_wrong_cell_is_named(
    damaged: Damaged, table: str, old: str, new: str, place: tuple[int, str]
) -> None:
    problems = damaged(table, old, new)
    assert (f"tables/{table}.csv", *place) in {(p.file, p.row, p.column) for p in problems}
    assert all(problem.mend for problem in problems)


def test_a_misspelled_old_unit_is_told_the_name_it_probably_is(damaged: Damaged) -> None:
    (problem,) = damaged("claims", "30,port pound", "30,port pond")
    assert "port pound" in problem.mend


def test_a_picture_that_is_cut_off_names_its_row(folder: Path) -> None:
    path = folder / "files" / "a.png"
    path.write_bytes(path.read_bytes()[:60])
    (problem,) = check_folder(folder)
    assert (problem.file, problem.row, problem.column) == (
        "tables/pictures.csv",
        2,
        "pictureFile",
    )


def test_a_study_without_the_newer_tables_and_columns_still_loads(folder: Path) -> None:
    for name in ("landmarks", "units"):
        (folder / "tables" / f"{name}.csv").unlink()
    for name, width in (("pictures", 5), ("claims", 6)):
        path = folder / "tables" / f"{name}.csv"
        lines = path.read_text(encoding="utf-8").splitlines()
        kept = [",".join(line.split(",")[:width]) for line in lines]
        path.write_text("\n".join(kept).replace("port pound", "lb").replace("old foot", "ft"))
    shutil.rmtree(folder / "files" / "pictures", ignore_errors=True)
    study = load_study(folder)
    assert study.landmarks == ()
    assert study.claims[0].value == pytest.approx(30 * 0.45359237)
