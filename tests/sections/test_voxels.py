import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage

from bonewright.sections.ellipse import hollow_ellipse
from bonewright.sections.shape import SectionProperties
from bonewright.sections.voxels import voxel_properties

MEASURES = (
    "area_mm2",
    "second_moment_mediolateral_mm4",
    "second_moment_anteroposterior_mm4",
    "greatest_moment_mm4",
    "least_moment_mm4",
    "polar_moment_mm4",
    "section_modulus_mediolateral_mm3",
    "section_modulus_anteroposterior_mm3",
    "section_modulus_greatest_mm3",
    "section_modulus_least_mm3",
    "farthest_fibre_mm",
    "whole_area_mm2",
)
# Semi-axes of bone and hole, and the hole's offset, in pixels; 100 pixels across.
SHAPES = {
    "circle": ((50, 50), (0, 0), (0, 0)),
    "annulus": ((50, 50), (35, 35), (0, 0)),
    "ellipse": ((50, 40), (0, 0), (0, 0)),
    "hollow ellipse": ((50, 40), (35, 25), (0, 0)),
    "eccentric hole": ((50, 50), (30, 30), (12, 5)),
}


def picture(
    name: str, *, shift: tuple[float, float] = (0.0, 0.0), finer: int = 1, side: int = 112
) -> NDArray[np.float64]:
    (a, b), (a1, b1), (x1, y1) = SHAPES[name]
    axis = (np.arange(side * finer) + 0.5) / finer - 0.5 - (side - 1) / 2
    x, y = axis[None, :] - shift[0], -axis[:, None] - shift[1]
    bone = (x / a) ** 2 + (y / b) ** 2 < 1
    if a1:
        bone &= ((x - x1) / a1) ** 2 + ((y - y1) / b1) ** 2 >= 1
    return bone.reshape(side, finer, side, finer).mean(axis=(1, 3))


def exact(name: str) -> SectionProperties:
    (a, b), (a1, b1), offset = SHAPES[name]
    return hollow_ellipse(
        2 * a,
        2 * b,
        inner_mediolateral_mm=2 * a1,
        inner_anteroposterior_mm=2 * b1,
        hole_offset_mm=offset,
    )


def relative_errors(found: SectionProperties, name: str) -> NDArray[np.float64]:
    truth = exact(name)
    return np.array([getattr(found, m) / getattr(truth, m) - 1 for m in MEASURES])


@pytest.mark.parametrize("name", SHAPES)
def test_a_black_and_white_picture_100_pixels_across_is_right_within_half_a_percent(
    name: str,
) -> None:
    found = voxel_properties(picture(name)[None] > 0.5, pixel_mm=(1, 1)).section(0)
    assert np.abs(relative_errors(found, name)).max() < 0.005


@pytest.mark.parametrize("name", SHAPES)
def test_a_grey_picture_is_right_within_half_a_percent_wherever_it_falls_on_the_grid(
    name: str,
) -> None:
    rng = np.random.default_rng(11)
    slices = np.stack(
        [picture(name, shift=tuple(rng.uniform(-0.5, 0.5, 2)), finer=5) for _ in range(12)]
    )
    found = voxel_properties(slices, threshold=0.5, pixel_mm=(1, 1), within_voxels=True)
    errors = np.array([relative_errors(found.section(place), name) for place in range(12)])
    assert np.sqrt((errors**2).mean(axis=0)).max() < 0.003
    assert np.abs(errors).max() < 0.006


def test_a_rectangle_on_the_grid_is_exact() -> None:
    mask = np.zeros((1, 90, 140), dtype=bool)
    mask[0, 10:70, 20:120] = True
    box = voxel_properties(mask, pixel_mm=(0.1, 0.2)).section(0)
    breadth, depth = 10.0, 12.0
    assert box.area_mm2 == pytest.approx(breadth * depth, rel=1e-9)
    assert box.second_moment_mediolateral_mm4 == pytest.approx(breadth * depth**3 / 12, rel=1e-9)
    assert box.second_moment_anteroposterior_mm4 == pytest.approx(depth * breadth**3 / 12, rel=1e-9)
    assert box.section_modulus_mediolateral_mm3 == pytest.approx(breadth * depth**2 / 6, rel=1e-9)
    assert box.section_modulus_anteroposterior_mm3 == pytest.approx(
        depth * breadth**2 / 6, rel=5e-3
    )


def test_random_blobs_have_the_largest_piece_and_the_holes_a_general_image_library_finds() -> None:
    rng = np.random.default_rng(1)
    for _ in range(25):
        slices = []
        for _ in range(3):
            field = ndimage.gaussian_filter(rng.normal(size=(50, 60)), rng.uniform(0.8, 4))
            slices.append(field > np.quantile(field, rng.uniform(0.2, 0.8)))
        found = voxel_properties(np.array(slices), pixel_mm=(1, 1))
        for place, mask in enumerate(slices):
            labels, count = ndimage.label(mask, structure=np.ones((3, 3)))
            sizes = ndimage.sum_labels(mask, labels, range(1, count + 1))
            largest = labels == 1 + np.argmax(sizes)
            assert found.area_mm2[place] == pytest.approx(largest.sum())
            assert found.whole_area_mm2[place] == pytest.approx(
                ndimage.binary_fill_holes(largest).sum()
            )


def test_specks_of_noise_do_not_change_the_bone() -> None:
    clean = picture("annulus") > 0.5
    specked = clean.copy()
    specked[3:5, 3:6] = True
    specked[100, 2] = True
    one, other = voxel_properties(np.stack([clean, specked]), pixel_mm=(1, 1)).area_mm2
    assert one == other


def test_a_stack_gives_what_its_slices_give_one_by_one() -> None:
    slices = np.stack([picture(name) for name in SHAPES for _ in range(20)]) > 0.5
    together = voxel_properties(slices, pixel_mm=(0.1, 0.1))
    for place in (0, 33, 63, 64, 99):
        alone = voxel_properties(slices[place : place + 1], pixel_mm=(0.1, 0.1)).section(0)
        for name in MEASURES:
            assert getattr(together.section(place), name) == pytest.approx(
                getattr(alone, name), rel=1e-12
            )


def test_a_slice_without_bone_has_area_nought_and_spoils_no_other() -> None:
    slices = np.stack([np.zeros((112, 112)), picture("circle")]) > 0.5
    found = voxel_properties(slices, pixel_mm=(1, 1))
    assert found.area_mm2[0] == 0
    assert found.area_mm2[1] == pytest.approx(np.pi * 50**2, rel=5e-3)


@pytest.mark.parametrize("kind", [np.uint8, np.uint16, np.int16, np.float32])
def test_the_type_of_the_grey_values_does_not_matter(kind: type) -> None:
    grey = (picture("hollow ellipse", finer=4) * 200 + 20).astype(kind)[None]
    found = voxel_properties(grey, threshold=120, pixel_mm=(1, 1), within_voxels=True)
    assert found.area_mm2[0] == pytest.approx(exact("hollow ellipse").area_mm2, rel=3e-3)


def test_the_principal_axis_follows_a_turned_section() -> None:
    axis = np.arange(160) - 79.5
    x, y = axis[None, :], -axis[:, None]
    for degrees in (-60, -20, 0, 35, 90):
        turn = np.deg2rad(degrees)
        along, across = x * np.cos(turn) + y * np.sin(turn), y * np.cos(turn) - x * np.sin(turn)
        mask = (along / 40) ** 2 + (across / 70) ** 2 < 1
        found = voxel_properties(mask[None], pixel_mm=(1, 1)).section(0)
        off = found.axis_of_greatest_rad - turn
        assert abs(np.sin(off)) < 0.01
