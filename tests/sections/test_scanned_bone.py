"""A synthetic CT stack of a tilted, tapering, noisy hollow bone that is known exactly."""

from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from bonewright.errors import NotEnoughEvidence, OutsideRange
from bonewright.sections.bone_axis import find_bone_axis
from bonewright.sections.ellipse import hollow_ellipse
from bonewright.sections.outline import traced_outline
from bonewright.sections.resliced import ScannedBone, section_scanned_bone
from bonewright.sections.shape import SectionProperties
from bonewright.sections.threshold import Threshold, choose_threshold

SPACING_MM = (0.30, 0.20, 0.20)
SHAPE = (200, 130, 130)
LENGTH_MM = 48.0
TILT_RAD, TOWARDS_RAD = np.deg2rad(11), 0.6


@dataclass(frozen=True)
class Stack:
    grey: NDArray[np.uint8]
    spacing_mm: tuple[float, float, float] = SPACING_MM

    @property
    def shape(self) -> tuple[int, int, int]:
        return self.grey.shape  # type: ignore[return-value]

    @property
    def dtype(self) -> np.dtype[np.generic]:
        return self.grey.dtype

    def read(self, start: int, stop: int) -> NDArray[np.uint8]:
        return self.grey[start:stop]


def semi_axes_mm(share: float | NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
    size = 1.1 - 0.25 * np.asarray(share)
    return 9 * size, 7.5 * size, 6.2 * size, 5 * size


def known(share: float) -> SectionProperties:
    a, b, a1, b1 = (float(value) for value in semi_axes_mm(share))
    return hollow_ellipse(
        2 * a, 2 * b, inner_mediolateral_mm=2 * a1, inner_anteroposterior_mm=2 * b1
    )


@cache
def scan() -> Stack:
    dz, dy, dx = SPACING_MM
    n_slices, n_rows, n_columns = SHAPE
    direction = np.array(
        [
            np.sin(TILT_RAD) * np.cos(TOWARDS_RAD),
            np.sin(TILT_RAD) * np.sin(TOWARDS_RAD),
            np.cos(TILT_RAD),
        ]
    )
    front = np.array([0.0, 1.0, 0.0])
    up = front - (front @ direction) * direction
    up /= np.linalg.norm(up)
    right = np.cross(up, direction)
    finer = 3
    grey = np.zeros(SHAPE, dtype=np.float32)
    sub = (np.arange(finer) + 0.5) / finer - 0.5
    for index in range(n_slices):
        for off_z in sub[::2]:
            z = (index + off_z - (n_slices - 1) / 2) * dz
            for off_y in sub:
                for off_x in sub:
                    x = (np.arange(n_columns) + off_x - (n_columns - 1) / 2)[None, :] * dx
                    y = -(np.arange(n_rows) + off_y - (n_rows - 1) / 2)[:, None] * dy
                    share = (x * direction[0] + y * direction[1] + z * direction[2]) / LENGTH_MM
                    share = share + 0.5
                    u = x * right[0] + y * right[1] + z * right[2]
                    v = x * up[0] + y * up[1] + z * up[2]
                    a, b, a1, b1 = semi_axes_mm(share)
                    grey[index] += (
                        (share > 0)
                        & (share < 1)
                        & ((u / a) ** 2 + (v / b) ** 2 < 1)
                        & ((u / a1) ** 2 + (v / b1) ** 2 >= 1)
                    )
    grey /= 2 * finer**2
    noise = np.random.default_rng(3).normal(0, 10, SHAPE)
    return Stack(np.clip(np.round(40 + 150 * grey + noise), 0, 255).astype(np.uint8))


@cache
def cut() -> ScannedBone:
    stack = scan()
    return section_scanned_bone(stack, choose_threshold(stack.grey[::9, ::3, ::3], "half-maximum"))


def test_the_axis_and_the_length_of_a_tilted_bone_are_found() -> None:
    axis = cut().axis
    assert axis.tilt_rad == pytest.approx(TILT_RAD, abs=np.deg2rad(0.15))
    assert axis.length_mm == pytest.approx(LENGTH_MM, rel=0.01)


def test_the_section_modulus_is_within_one_percent_along_the_middle_80_percent() -> None:
    bone = cut()
    for place in range(9, 90):
        share = bone.positions_percent[place] / 100
        found, truth = bone.properties.section(place), known(share)
        assert found.section_modulus_mediolateral_mm3 == pytest.approx(
            truth.section_modulus_mediolateral_mm3, rel=0.01
        )
        assert found.section_modulus_anteroposterior_mm3 == pytest.approx(
            truth.section_modulus_anteroposterior_mm3, rel=0.01
        )
        assert found.area_mm2 == pytest.approx(truth.area_mm2, rel=0.01)


def test_the_outline_of_a_cut_agrees_with_its_voxels() -> None:
    bone = cut()
    outline = traced_outline(bone.outline(49))
    assert outline.area_mm2 == pytest.approx(bone.properties.area_mm2[49], rel=0.005)
    assert len(bone.outline(49)) == 2


def test_a_lower_threshold_gives_more_bone_and_a_higher_one_less() -> None:
    bone = cut()
    assert bone.properties_low.area_mm2[49] > bone.properties.area_mm2[49]
    assert bone.properties.area_mm2[49] > bone.properties_high.area_mm2[49]


def test_turning_the_stack_round_turns_the_positions_round() -> None:
    stack = scan()
    threshold = cut().threshold
    ends = section_scanned_bone(stack, threshold, positions_percent=(25,), proximal_first=False)
    assert ends.properties.area_mm2[0] == pytest.approx(cut().properties.area_mm2[74], rel=1e-6)


def test_turning_the_front_by_a_right_angle_swaps_the_axes() -> None:
    stack = scan()
    turned = section_scanned_bone(
        stack, cut().threshold, positions_percent=(50,), anterior_rad=0.0
    ).properties
    assert turned.section_modulus_mediolateral_mm3[0] == pytest.approx(
        cut().properties.section_modulus_anteroposterior_mm3[49], rel=0.01
    )


def test_a_stack_without_bone_a_steep_bone_and_places_beyond_the_ends_are_refused() -> None:
    level = Threshold(rule="fixed", level=120, background=20, bone=200, noise=1)
    with pytest.raises(NotEnoughEvidence):
        find_bone_axis(Stack(np.zeros((20, 30, 30), dtype=np.uint8)), level)
    steep = np.zeros((60, 40, 120), dtype=np.uint8)
    for index in range(60):
        steep[index, 10:30, index : index + 20] = 200
    with pytest.raises(OutsideRange):
        find_bone_axis(Stack(steep, spacing_mm=(0.1, 0.2, 0.2)), level)
    with pytest.raises(OutsideRange):
        section_scanned_bone(scan(), cut().threshold, positions_percent=(0, 50))
