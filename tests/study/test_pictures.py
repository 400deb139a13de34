"""Image files of every awkward kind are handled, or refused with words; none is ever run."""

import io
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image

from bonewright.study.faults import Fault
from bonewright.study.pictures import PictureFacts, picture_facts, shown_picture

NOISE = np.random.default_rng(1).integers(0, 256, (40, 60, 3), dtype=np.uint8)


def facts(path: Path) -> PictureFacts:
    found = picture_facts(path)
    assert isinstance(found, PictureFacts), found
    return found


def shown(path: Path, longest_px: int = 200) -> Image.Image:
    content = shown_picture(path, longest_px=longest_px)
    assert isinstance(content, bytes), content
    image = Image.open(io.BytesIO(content))
    image.load()
    assert image.format == "PNG"
    return image


def saved(path: Path, image: Image.Image, **options: object) -> Path:
    image.save(path, **options)
    return path


@pytest.mark.parametrize("name", ["a.png", "a.jpg", "a.tif", "a.gif", "a.bmp", "a.webp"])
def test_each_common_kind_is_read_whole(tmp_path: Path, name: str) -> None:
    path = saved(tmp_path / name, Image.fromarray(NOISE))
    assert (facts(path).width_px, facts(path).height_px) == (60, 40)
    assert facts(path).notes == ()
    assert shown(path).size == (60, 40)


@pytest.mark.parametrize("orientation", range(2, 9))
def test_a_turned_photograph_is_shown_upright_and_said_to_be(
    tmp_path: Path, orientation: int
) -> None:
    plain = np.zeros((40, 60, 3), dtype=np.uint8)
    plain[:10, :10] = 255
    image = Image.fromarray(plain)
    exif = image.getexif()
    exif[0x0112] = orientation
    path = saved(tmp_path / "turned.png", image, exif=exif)
    found, upright = facts(path), shown(path)
    assert (found.width_px, found.height_px) == upright.size
    assert upright.size == ((40, 60) if orientation >= 5 else (60, 40))
    assert len(found.notes) == 1
    # Where the white corner belongs, by the definition of the tag.
    corner = {2: "tr", 3: "br", 4: "bl", 5: "tl", 6: "tr", 7: "br", 8: "bl"}[orientation]
    seen = np.asarray(upright.convert("L"))
    rows = slice(0, 10) if corner[0] == "t" else slice(-10, None)
    columns = slice(0, 10) if corner[1] == "l" else slice(-10, None)
    assert seen[rows, columns].min() == 255
    assert seen.sum() == 255 * 100


def test_printing_colours_are_shown_and_said(tmp_path: Path) -> None:
    cmyk = Image.fromarray(np.full((40, 60, 3), 250, dtype=np.uint8)).convert("CMYK")
    path = saved(tmp_path / "cmyk.jpg", cmyk)
    assert "CMYK" in facts(path).notes[0]
    assert np.asarray(shown(path)).min() > 200  # light stays light


@pytest.mark.parametrize("kind", ["grey png", "colour tif", "float tif"])
def test_sixteen_bits_are_shown_with_their_contrast_and_said(tmp_path: Path, kind: str) -> None:
    ramp = np.tile(np.linspace(1000, 3000, 60), (40, 1))
    path = tmp_path / ("deep.png" if "png" in kind else "deep.tif")
    if kind == "grey png":
        Image.fromarray(ramp.astype(np.uint16)).save(path)
    elif kind == "colour tif":
        tifffile.imwrite(path, np.repeat(ramp[..., None], 3, axis=2).astype(np.uint16) * 20)
    else:
        tifffile.imwrite(path, ramp.astype(np.float32))
    assert "16 bits" in facts(path).notes[0]
    grey = np.asarray(shown(path).convert("L")).astype(int)
    assert grey[0, -1] - grey[0, 0] > 120
    assert np.all(np.diff(grey[0]) >= 0)


def test_a_large_picture_is_shown_smaller_but_keeps_its_own_measures(tmp_path: Path) -> None:
    path = saved(tmp_path / "large.jpg", Image.new("RGB", (4000, 2500), "grey"))
    assert (facts(path).width_px, facts(path).height_px) == (4000, 2500)
    assert max(shown(path, 500).size) == 500


@pytest.mark.parametrize("name", ["cut.png", "cut.jpg", "cut.tif", "cut.gif"])
def test_a_file_that_was_cut_off_is_refused(tmp_path: Path, name: str) -> None:
    path = saved(tmp_path / name, Image.fromarray(NOISE))
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    found = picture_facts(path)
    assert isinstance(found, Fault)
    assert found.mend
    assert isinstance(shown_picture(path, longest_px=50), Fault)


SCRIPT = '<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("drawing.svg", SCRIPT.encode()),
        ("drawing.png", b'\xef\xbb\xbf<?xml version="1.0"?>' + SCRIPT.encode()),
        ("page.jpg", b"<!DOCTYPE html><script>alert(1)</script>"),
        ("sheet.png", b"%PDF-1.7 ..."),
        ("words.png", b"a few words"),
        ("nothing.png", b""),
        ("program.gif", b"MZ" + bytes(200)),
    ],
)
def test_what_is_no_picture_is_refused_whatever_its_name_says(
    tmp_path: Path, name: str, content: bytes
) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    found = picture_facts(path)
    assert isinstance(found, Fault)
    assert "picture" in found.expected
    assert isinstance(shown_picture(path, longest_px=50), Fault)


def test_a_small_file_that_unpacks_to_a_huge_picture_is_refused_unopened(tmp_path: Path) -> None:
    def chunk(kind: bytes, data: bytes) -> bytes:
        check = zlib.crc32(kind + data)
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", check)

    header = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)
    path = tmp_path / "bomb.png"
    path.write_bytes(
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(bytes(100_000)))
        + chunk(b"IEND", b"")
    )
    found = picture_facts(path)
    assert isinstance(found, Fault)
    assert "million pixels" in found.expected


def test_a_replaced_file_has_another_checksum(tmp_path: Path) -> None:
    path = saved(tmp_path / "a.png", Image.fromarray(NOISE))
    before = facts(path).checksum
    saved(path, Image.fromarray(255 - NOISE))
    assert facts(path).checksum != before
