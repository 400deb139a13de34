from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tifffile
from numpy.typing import NDArray
from PIL import Image

from bonewright.errors import Problem, StudyProblems
from bonewright.study.section_images import outline_bytes, read_grey
from bonewright.study.slice_stacks import SliceStack, open_stack

STACK = (np.arange(12 * 20 * 16) % 251).astype(np.uint8).reshape(12, 20, 16)


def refused(path: Path, **options: Any) -> Problem:
    with pytest.raises(StudyProblems) as caught:
        open_stack(path, path.name, **options).read(0, 4)
    (problem,) = caught.value.problems
    assert problem.file.startswith(path.name)
    assert problem.mend
    return problem


def spaced(path: Path, **options: Any) -> SliceStack:
    return open_stack(path, path.name, pixel_mm=0.1, between_slices_mm=0.2, **options)


def slices_in(
    folder: Path, numbers: list[int], *, name: str = "slice_", suffix: str = ".tif"
) -> Path:
    folder.mkdir(exist_ok=True)
    for place, number in enumerate(numbers):
        path = folder / f"{name}{number:03d}{suffix}"
        if suffix == ".png":
            Image.fromarray(STACK[place]).save(path)
        else:
            tifffile.imwrite(path, STACK[place], photometric="minisblack")
    return folder


@pytest.mark.parametrize("compression", [None, "zlib", "lzw"])
def test_a_stack_of_tiff_pages_reads_slice_by_slice(tmp_path: Path, compression: str) -> None:
    path = tmp_path / "bone.tif"
    tifffile.imwrite(path, STACK, photometric="minisblack", compression=compression)
    stack = spaced(path)
    assert stack.shape == (12, 20, 16)
    assert stack.spacing_mm == (0.2, 0.1, 0.1)
    np.testing.assert_array_equal(stack.read(3, 7), STACK[3:7])


def test_a_big_endian_16_bit_stack_reads_right(tmp_path: Path) -> None:
    path = tmp_path / "bone.tif"
    tifffile.imwrite(path, STACK.astype(">u2") * 200, photometric="minisblack", byteorder=">")
    np.testing.assert_array_equal(spaced(path).read(0, 12), STACK.astype(np.uint16) * 200)


@pytest.mark.parametrize("suffix", [".tif", ".png"])
def test_a_folder_of_numbered_slices_reads_in_order(tmp_path: Path, suffix: str) -> None:
    folder = slices_in(tmp_path / "bone", list(range(5, 17)), suffix=suffix)
    np.testing.assert_array_equal(spaced(folder).read(0, 12), STACK)


def test_dark_bone_is_turned_over(tmp_path: Path) -> None:
    path = tmp_path / "bone.tif"
    tifffile.imwrite(path, STACK, photometric="minisblack")
    np.testing.assert_array_equal(spaced(path, dark_bone=True).read(2, 3), 255 - STACK[2:3])


def test_spacing_stated_by_the_file_is_used_and_must_not_be_contradicted(tmp_path: Path) -> None:
    path = tmp_path / "bone.tif"
    tifffile.imwrite(
        path, STACK, imagej=True, resolution=(20.0, 20.0), metadata={"spacing": 0.2, "unit": "mm"}
    )
    assert open_stack(path, "bone.tif").spacing_mm == pytest.approx((0.2, 0.05, 0.05))
    assert "0.05" in refused(path, pixel_mm=0.08).found
    assert "0.2" in refused(path, between_slices_mm=0.3).found


def test_unknown_and_impossible_spacings_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "bone.tif"
    tifffile.imwrite(path, STACK, photometric="minisblack")
    assert "no distance" in refused(path, pixel_mm=0.1).found
    assert "-0.1" in refused(path, pixel_mm=-0.1, between_slices_mm=0.2).found


def test_missing_slices_are_named(tmp_path: Path) -> None:
    folder = slices_in(tmp_path / "bone", [1, 2, 3, 5, 6, 8])
    assert "4, 7" in refused(folder, pixel_mm=0.1, between_slices_mm=0.1).found


def test_slices_of_two_series_are_refused(tmp_path: Path) -> None:
    folder = slices_in(tmp_path / "bone", [1, 2, 3])
    slices_in(folder, [1, 2], name="other_")
    assert "several series" in refused(folder, pixel_mm=0.1, between_slices_mm=0.1).found


def test_a_slice_of_another_size_is_named(tmp_path: Path) -> None:
    folder = slices_in(tmp_path / "bone", [1, 2, 3])
    tifffile.imwrite(folder / "slice_004.tif", STACK[0, :10], photometric="minisblack")
    problem = refused(folder, pixel_mm=0.1, between_slices_mm=0.1)
    assert problem.file.endswith("slice_004.tif")


def test_what_is_no_stack_is_refused(tmp_path: Path) -> None:
    (tmp_path / "no.tif").write_bytes(b"not a picture")
    (tmp_path / "empty").mkdir()
    tifffile.imwrite(tmp_path / "one.tif", STACK[0], photometric="minisblack")
    for name in ("no.tif", "empty", "one.tif", "absent.tif"):
        refused(tmp_path / name, pixel_mm=0.1, between_slices_mm=0.1)


def test_a_file_broken_off_and_voxels_without_grey_are_refused(tmp_path: Path) -> None:
    tifffile.imwrite(tmp_path / "whole.tif", STACK, photometric="minisblack")
    content = (tmp_path / "whole.tif").read_bytes()
    (tmp_path / "half.tif").write_bytes(content[: len(content) // 2])
    problem = refused(tmp_path / "half.tif", pixel_mm=0.1, between_slices_mm=0.1)
    assert "broken off" in problem.found
    holes = STACK.astype(np.float32)
    holes[4, 2, 3] = np.nan
    tifffile.imwrite(tmp_path / "holes.tif", holes, photometric="minisblack")
    stack = open_stack(tmp_path / "holes.tif", "holes.tif", pixel_mm=0.1, between_slices_mm=0.1)
    with pytest.raises(StudyProblems) as caught:
        stack.read(3, 6)
    assert "slice 5" in caught.value.problems[0].found


def dicom_series(
    folder: Path,
    *,
    series: str = "1.2.3",
    positions: list[float],
    first: int = 0,
    aside: float = 0.0,
    directions: tuple[float, ...] = (1, 0, 0, 0, 1, 0),
) -> Path:
    import pydicom
    from pydicom.dataset import FileDataset, FileMetaDataset
    from pydicom.uid import ExplicitVRLittleEndian

    folder.mkdir(exist_ok=True)
    for place, position in enumerate(positions):
        meta = FileMetaDataset()
        meta.TransferSyntaxUID = ExplicitVRLittleEndian
        meta.MediaStorageSOPClassUID = "1.2.840.10008.5.1.4.1.1.2"
        meta.MediaStorageSOPInstanceUID = f"1.2.3.{first + place + 1}"
        path = folder / f"{first + place:03d}.dcm"
        data = FileDataset(str(path), {}, file_meta=meta, preamble=b"\0" * 128)
        data.SOPClassUID = meta.MediaStorageSOPClassUID
        data.SOPInstanceUID = meta.MediaStorageSOPInstanceUID
        data.SeriesInstanceUID = series
        data.Rows, data.Columns = STACK.shape[1:]
        data.PixelSpacing = [0.25, 0.15]
        data.ImageOrientationPatient = list(directions)
        data.ImagePositionPatient = [0, aside * place, position]
        data.SamplesPerPixel, data.BitsAllocated, data.BitsStored, data.HighBit = 1, 16, 16, 15
        data.PixelRepresentation = 0
        data.PhotometricInterpretation = "MONOCHROME2"
        data.RescaleSlope, data.RescaleIntercept = 1, -1000
        data.PixelData = STACK[place % 12].astype(np.uint16).tobytes()
        pydicom.dcmwrite(path, data, enforce_file_format=True)
    return folder


def test_a_dicom_series_is_put_in_order_of_position(tmp_path: Path) -> None:
    folder = dicom_series(tmp_path / "scan", positions=[0.6, 0.0, 0.3])
    stack = open_stack(folder, "scan")
    assert stack.spacing_mm == pytest.approx((0.3, 0.25, 0.15))
    expected: NDArray[Any] = STACK[[1, 2, 0]].astype(np.int16) - 1000
    np.testing.assert_array_equal(stack.read(0, 3), expected)


def test_a_dicom_series_with_a_gap_a_double_or_a_stranger_is_refused(tmp_path: Path) -> None:
    gap = dicom_series(tmp_path / "gap", positions=[0.0, 0.3, 0.6, 1.2, 1.5])
    assert "1 slice missing" in refused(gap).found
    double = dicom_series(tmp_path / "double", positions=[0.0, 0.3, 0.3, 0.6])
    assert "same position" in refused(double).found
    mixed = dicom_series(tmp_path / "mixed", positions=[0.0, 0.3, 0.6])
    dicom_series(mixed, series="9.9", positions=[0.9], first=3)
    assert "another series" in refused(mixed).found
    stranger = dicom_series(tmp_path / "stranger", positions=[0.0, 0.3, 0.6])
    (stranger / "notes.dcm").write_bytes(b"no scan")
    assert refused(stranger).file.endswith("notes.dcm")


def test_a_tilted_gantry_and_damaged_directions_are_refused(tmp_path: Path) -> None:
    tilted = dicom_series(tmp_path / "tilted", positions=[0.0, 0.3, 0.6], aside=0.1)
    assert "tilted gantry" in refused(tilted).found
    rounded = dicom_series(tmp_path / "rounded", positions=[0.0, 0.3, 0.6], aside=0.01)
    assert open_stack(rounded, "rounded").spacing_mm[0] == pytest.approx(0.3)
    slanted = dicom_series(
        tmp_path / "slanted", positions=[0.0, 0.3, 0.6], directions=(1, 0, 0, 0.6, 0.8, 0)
    )
    assert "right angles" in refused(slanted).found


def test_a_dicom_spacing_must_not_be_contradicted(tmp_path: Path) -> None:
    folder = dicom_series(tmp_path / "scan", positions=[0.0, 0.3, 0.6])
    assert "0.3" in refused(folder, between_slices_mm=0.5).found


def test_pictures_in_colour_and_of_16_bits_become_grey(tmp_path: Path) -> None:
    colour = np.zeros((6, 8, 3), dtype=np.uint8)
    colour[..., 1] = 100
    Image.fromarray(colour).save(tmp_path / "c.png")
    assert np.all(read_grey(tmp_path / "c.png", "c.png") == 59)
    deep = (STACK[0].astype(np.uint16)) * 256
    Image.fromarray(deep).save(tmp_path / "d.png")
    np.testing.assert_array_equal(read_grey(tmp_path / "d.png", "d.png"), deep)


def test_what_is_no_picture_is_refused(tmp_path: Path) -> None:
    (tmp_path / "x.png").write_bytes(b"nothing")
    tifffile.imwrite(tmp_path / "s.tif", STACK, photometric="minisblack")
    for name in ("x.png", "s.tif", "absent.png"):
        with pytest.raises(StudyProblems) as caught:
            read_grey(tmp_path / name, name)
        assert caught.value.problems[0].file == name


def test_an_outline_is_written_as_the_study_reads_it(tmp_path: Path) -> None:
    from bonewright.study.outlines import read_outline

    rings = (((0.0, 0.0), (4.0, 0.0), (4.0, 4.0), (0.0, 4.0)), ((1.0, 1.0), (2.0, 1.0), (2.0, 2.0)))
    (tmp_path / "a.csv").write_bytes(outline_bytes(rings))
    read, problems = read_outline(tmp_path / "a.csv", "a.csv")
    assert not problems
    assert read == rings
