from pathlib import Path

import PIL.Image
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bonewright.errors import BonewrightError
from bonewright.study.cells import read_file_path
from bonewright.study.faults import Fault
from bonewright.study.file_intake import FileKind, kind_of, place_file, safe_name
from bonewright.study.raw import content_hash

TETRAHEDRON = "v 0 0 0\nv 10 0 0\nv 0 10 0\nv 0 0 10\nf 1 3 2\nf 1 2 4\nf 2 3 4\nf 3 1 4\n"
SQUARE = "ring,x,y\n0,0,0\n0,10,0\n0,10,8\n0,0,8\n"


def _written(folder: Path, name: str, content: bytes | str) -> Path:
    path = folder / name
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path


@given(st.text(max_size=300))
def test_any_name_becomes_one_that_a_table_can_hold_and_every_system_can_write(name: str) -> None:
    safe = safe_name(name)
    assert safe == safe_name(safe)
    assert not isinstance(read_file_path(safe), Fault)
    assert 0 < len(safe.encode()) <= 120
    assert not set(safe) & set('<>:"/\\|?*\n\t\0')
    assert safe[0] != "."
    assert safe[-1] not in ". "


@pytest.mark.parametrize(
    ("name", "safe"),
    [
        ("../../etc/passwd", "passwd"),
        ("..\\..\\plate.png", "plate.png"),
        (".hidden", "hidden"),
        ("NUL.png", "_NUL.png"),
        ("a\u202egnp.exe", "agnp.exe"),
        ("", "file"),
        ("x" * 300 + ".stl", "x" * 116 + ".stl"),
    ],
)
def test_a_name_that_would_do_harm_is_made_harmless(name: str, safe: str) -> None:
    assert safe_name(name) == safe


@pytest.mark.parametrize(
    ("name", "content", "kind"),
    [
        ("maquette.obj", TETRAHEDRON, "scan"),
        ("sec.csv", SQUARE, "outline"),
        ("bones.csv", "Nr;Knochen;GL\n1;Femur;171,5\n", "spreadsheet"),
        ("tree.nwk", "((a:1,b:1):1,c:2);", "tree"),
        ("tree.txt", "((a:1,b:1):1,c:2);", "tree"),
    ],
)
def test_what_a_file_is_is_read_from_the_file(
    tmp_path: Path, name: str, content: str, kind: FileKind
) -> None:
    assert kind_of(_written(tmp_path, name, content), name) == kind


def test_a_picture_is_one_and_in_a_folder_of_slices_it_is_a_slice(tmp_path: Path) -> None:
    path = tmp_path / "plate.tif"
    PIL.Image.new("L", (8, 6)).save(path)
    assert kind_of(path, "plate.tif") == "picture"
    assert kind_of(path, "plate.tif", of_stack=True) == "slices"


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("notes.docx", "PK"),
        ("plate.png", "not a picture"),
        ("scan.stl", "not a scan"),
        ("tree.nwk", "((a:1,b:1"),
        ("bones.xlsx", "not a workbook"),
        ("archive.zip", "not a zip"),
        ("slice.dcm", "not a slice" * 20),
        ("empty.csv", ""),
    ],
)
def test_a_file_that_is_not_what_its_name_says_is_refused_with_a_remedy(
    tmp_path: Path, name: str, content: str
) -> None:
    with pytest.raises(BonewrightError) as refused:
        kind_of(_written(tmp_path, name, content), name)
    assert name in refused.value.message
    assert refused.value.remedy


def test_a_file_never_takes_the_place_of_another_and_the_same_one_is_not_kept_twice(
    tmp_path: Path,
) -> None:
    def place(content: bytes) -> tuple[str, bool]:
        path = _written(tmp_path, "coming", content)
        placed = place_file(
            path, tmp_path, place="pictures", name="plate.png", checksum=content_hash(content)
        )
        assert not path.exists()
        return placed

    assert place(b"one") == ("pictures/plate.png", True)
    assert place(b"two") == ("pictures/plate-2.png", True)
    assert place(b"one") == ("pictures/plate.png", False)
    assert place(b"two") == ("pictures/plate-2.png", False)
    assert (tmp_path / "files" / "pictures" / "plate.png").read_bytes() == b"one"


def test_a_link_that_leads_out_of_the_study_is_not_followed(tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    study = tmp_path / "study"
    (study / "files").mkdir(parents=True)
    (study / "files" / "scans").symlink_to(outside)
    path = _written(tmp_path, "coming", b"x")
    with pytest.raises(BonewrightError):
        place_file(path, study, place="scans", name="a.stl", checksum=content_hash(b"x"))
    assert list(outside.iterdir()) == []
