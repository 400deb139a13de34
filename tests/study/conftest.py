"""A small sound study, written as files, for the tests to damage one cell at a time."""

import csv
import io
import struct
from collections.abc import Callable
from pathlib import Path

import pytest

from bonewright.errors import Problem
from bonewright.study.load import check_folder

SETTINGS = """
[study]
title = "A test study"
question = "How heavy was it?"
invented = true

[animal]
name = "test rail"

[blind_proof]
species = "Rallus fictus"
reason = "It is the nearest."

[tree]
file = "relatives.nwk"

[witness]
earliest = 1600
latest = 1700
"""

TABLES: dict[str, list[list[str]]] = {
    "sources": [
        ["sourceID", "bibliographicCitation", "sourceKind"],
        ["src-01", "Own measuring, 2026", "own measuring"],
    ],
    "specimens": [
        [
            "materialEntityID",
            "institutionCode",
            "catalogNumber",
            "organismID",
            "element",
            "side",
            "preparations",
            "castOf",
            "preservation",
            "sourceID",
        ],
        ["bone-1", "AAA", "1", "ind-1", "femur", "left", "bone", "", "complete", "src-01"],
        ["bone-2", "AAA", "2", "", "femur", "left", "cast", "bone-1", "complete", ""],
        ["bone-3", "BBB", "7", "", "sternum", "midline", "bone", "", "broken", ""],
    ],
    "measurements": [
        [
            "measurementID",
            "materialEntityID",
            "measurementType",
            "measurementValue",
            "measurementUnit",
            "measurementAccuracy",
            "sourceID",
        ],
        ["m-1", "bone-1", "GL", "170.5", "mm", "0.05", "src-01"],
        ["m-2", "bone-2", "GL", "17.1", "cm", "0.01", ""],
        ["m-3", "bone-3", "LM", "98.25", "mm", "", ""],
    ],
    "relatives": [
        ["scientificName", "locomotion", "flight", "bodyMass", "bodyMassUnit", "individualCount"],
        ["Rallus fictus", "runner", "flightless", "2.5", "kg", "12"],
        ["Rallus alius", "walker", "flying", "350", "g", ""],
    ],
    "relative_measurements": [
        [
            "measurementID",
            "scientificName",
            "element",
            "measurementType",
            "measurementValue",
            "measurementUnit",
        ],
        ["r-1", "Rallus fictus", "femur", "CD", "31.5", "mm"],
        ["r-2", "Rallus fictus", "tibiotarsus", "CD", "28.5", "mm"],
    ],
    "sections": [
        [
            "sectionID",
            "materialEntityID",
            "scientificName",
            "element",
            "position",
            "boneLength",
            "outerMediolateral",
            "outerAnteroposterior",
            "innerMediolateral",
            "innerAnteroposterior",
            "outlineFile",
            "measurementUnit",
        ],
        ["sec-1", "bone-1", "", "femur", "50", "170.5", "12.5", "14", "8", "9.5", "", "mm"],
        ["sec-2", "", "Rallus fictus", "femur", "50", "80.5", "", "", "", "", "ring.csv", "mm"],
    ],
    "bodies": [
        [
            "measurementID",
            "bodyID",
            "bodyState",
            "scaleDenominator",
            "measurementValue",
            "measurementUnit",
            "armatureVolume",
        ],
        ["v-1", "maquette", "mean", "4", "250.5", "mL", "3.5"],
        ["v-2", "maquette", "mean", "4", "0.2512", "L", ""],
        ["v-3", "maquette", "mean", "4", "250", "cm3", "3"],
    ],
    "body_segments": [
        [
            "segmentID",
            "parentSegment",
            "sides",
            "element",
            "measurementType",
            "lengthRatio",
            "attachAlong",
            "jointAngle",
            "jointLowest",
            "jointHighest",
            "bonePercent",
        ],
        ["crest", "head", "midline", "skull", "GL", "0.2", "50", "80", "0", "90", "10"],
        ["beak", "head", "midline", "skull", "GL", "0.6", "96", "-6", "-15", "15", "45"],
    ],
    "body_hoops": [
        [
            "hoopID",
            "segmentID",
            "station",
            "element",
            "measurementType",
            "halfWidthRatio",
            "dorsalRatio",
            "ventralRatio",
            "tissueThickness",
            "measurementUnit",
        ],
        ["h-1", "crest", "0", "", "", "0.2", "0.3", "0.3", "0.2", "cm"],
        ["h-2", "crest", "50", "", "", "0.1", "0.2", "0.2", "2", "mm"],
        ["h-3", "crest", "100", "", "", "0", "0", "0", "", ""],
    ],
    "tissues": [
        ["tissue", "density", "densityLow", "densityHigh"],
        ["fat", "0.92", "0.9", "0.94"],
    ],
    "lost_parts": [
        ["partID", "part", "scientificName", "element", "measurementType", "ratio"],
        ["p-1", "claw length", "Rallus fictus", "femur", "GL", "0.15"],
        ["p-2", "leg muscle mass", "Rallus fictus", "", "", "0.2"],
    ],
    "body_scans": [
        [
            "scanID",
            "scanFile",
            "scanOf",
            "bodyState",
            "bodyID",
            "scaleDenominator",
            "lengthUnit",
            "checkLength",
            "element",
            "measurementType",
        ],
        ["scan-1", "block.stl", "body", "mean", "block", "4", "cm", "4.2", "femur", "GL"],
    ],
    "pictures": [
        ["pictureID", "title", "eventDate", "drawnFrom", "copyOf"],
        ["pic-1", "A sketch", "1650/1655", "life", ""],
        ["pic-2", "An engraving", "1660-03", "another picture", "pic-1"],
    ],
    "picture_marks": [
        [
            "measurementID",
            "pictureID",
            "measurementType",
            "measurementValue",
            "measurementDeterminedBy",
        ],
        ["k-1", "pic-1", "fatness", "3.5", "scorer 1"],
    ],
    "accounts": [
        ["accountID", "title", "eventDate", "standing", "copyOf"],
        ["acc-1", "A letter", "1662", "eyewitness", ""],
        ["acc-2", "A book", "1670", "copied", "acc-1"],
    ],
    "claims": [
        ["claimID", "accountID", "claimType", "measurementValue", "measurementUnit", "statement"],
        ["clm-1", "acc-1", "weight", "30", "lb", "Thirty pounds."],
        ["clm-2", "acc-1", "height", "3", "ft", "Three feet high."],
        ["clm-3", "acc-2", "movement", "", "", "It runs."],
    ],
    "mount_measurements": [
        [
            "measurementID",
            "mountID",
            "title",
            "element",
            "measurementType",
            "measurementValue",
            "measurementUnit",
            "allowanceLow",
            "allowanceHigh",
        ],
        ["mt-1", "mount", "thigh", "femur", "GL", "18.5", "cm", "0.2", "0.9"],
    ],
    "decisions": [
        ["decisionID", "tableName", "rowID", "decision", "reason"],
        ["dec-1", "measurements", "m-3", "set aside", "The keel is broken."],
    ],
}

RING = "ring,x,y\n0,0,0\n0,10.5,0\n0,10.5,12\n0,0,12\n1,3,3\n1,7,3\n1,7,8\n1,3,8\n"


def _write_table(
    folder: Path, name: str, rows: list[list[str]], *, delimiter: str = ",", encoding: str = "utf-8"
) -> Path:
    """Write one table with the standard library's writer."""
    text = io.StringIO(newline="")
    csv.writer(text, delimiter=delimiter, lineterminator="\n").writerows(rows)
    path = folder / "tables" / f"{name}.csv"
    path.write_bytes(text.getvalue().encode(encoding))
    return path


Damage = Callable[[str, str, str, str], tuple[Problem, ...]]


@pytest.fixture
def write_table() -> Callable[..., Path]:
    """Give tests the writer of one table."""
    return _write_table


@pytest.fixture
def tables() -> dict[str, list[list[str]]]:
    """Every table as rows of text, header first, free to be changed."""
    return {name: [list(row) for row in rows] for name, rows in TABLES.items()}


def block_stl() -> bytes:
    """A closed block of 10 x 10 x 10 units as binary STL."""
    corners = [(x, y, z) for x in (0, 10) for y in (0, 10) for z in (0, 10)]
    quads = ((0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3))
    faces = [f for a, b, c, d in quads for f in ((a, b, c), (a, c, d))]
    content = b"a block".ljust(80) + len(faces).to_bytes(4, "little")
    for face in faces:
        numbers = [0.0, 0.0, 0.0, *(float(v) for corner in face for v in corners[corner])]
        content += struct.pack("<12fH", *numbers, 0)
    return content


@pytest.fixture
def study_folder(tmp_path: Path) -> Path:
    """Write the sound study."""
    folder = tmp_path / "study"
    (folder / "tables").mkdir(parents=True)
    (folder / "files").mkdir()
    (folder / "study.toml").write_text(SETTINGS, encoding="utf-8")
    (folder / "files" / "relatives.nwk").write_text("(Rallus_fictus:1,'Rallus alius':1);")
    (folder / "files" / "ring.csv").write_text(RING)
    (folder / "files" / "block.stl").write_bytes(block_stl())
    for name, rows in TABLES.items():
        _write_table(folder, name, rows)
    return folder


@pytest.fixture
def damage(study_folder: Path, tables: dict[str, list[list[str]]]) -> Damage:
    """Change one cell of the study on disk and check the folder.

    Called with the table, the row's name, the column and the new text.
    """

    def change(name: str, row_id: str, column: str, text: str) -> tuple[Problem, ...]:
        rows = tables[name]
        row = next(row for row in rows if row[0] == row_id)
        row[rows[0].index(column)] = text
        _write_table(study_folder, name, rows)
        return check_folder(study_folder)

    return change
