"""Sections of a scanned bone across its own axis, at even steps along its length."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from bonewright.errors import OutsideRange
from bonewright.sections.bone_axis import BoneAxis, SliceSource, find_bone_axis, slabs
from bonewright.sections.contour import contour_rings
from bonewright.sections.shape import Ring, StackProperties
from bonewright.sections.threshold import Threshold
from bonewright.sections.voxels import voxel_properties

__all__ = ["ScannedBone", "section_scanned_bone"]

_MOST_PIXELS_ACROSS = 900
_ROOM = 1.06


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ScannedBone:
    """Sections of a scanned bone.

    ``positions_percent`` (n_sections,) counts from the proximal end; ``images``
    (n_sections, n, n) are the sections' grey values, lateral to the right and anterior up;
    ``pixel_mm`` is the side of their pixels. ``properties_low`` and ``properties_high`` are
    the properties with the threshold a tenth of the contrast lower and higher.
    """

    axis: BoneAxis
    threshold: Threshold
    positions_percent: NDArray[np.float64]
    images: NDArray[np.generic]
    pixel_mm: float
    properties: StackProperties
    properties_low: StackProperties
    properties_high: StackProperties

    def outline(self, index: int) -> tuple[Ring, ...]:
        """Draw the contour of one section, in mm."""
        return contour_rings(
            self.images[index], self.threshold.level, pixel_mm=(self.pixel_mm, self.pixel_mm)
        )


def section_scanned_bone(
    source: SliceSource,
    threshold: Threshold,
    *,
    positions_percent: Sequence[float] = tuple(range(1, 100)),
    proximal_first: bool = True,
    anterior_rad: float = np.pi / 2,
) -> ScannedBone:
    """Cut a scanned bone across its axis, reading the stack twice and never whole.

    Parameters
    ----------
    source : SliceSource
        The stack, bright for bone.
    threshold : Threshold
        What counts as bone.
    positions_percent : sequence of float
        Where to cut, from the proximal end, in percent of the length along the axis.
    proximal_first : bool
        Whether the first slice is nearer to the bone's proximal end.
    anterior_rad : float
        Direction of the bone's front in a slice, anticlockwise from the right.

    Notes
    -----
    Each section is sampled by trilinear interpolation on square pixels as large as the
    smallest side of a voxel.
    """
    places = np.asarray(positions_percent, dtype=np.float64)
    if not len(places) or places.min() <= 0 or places.max() >= 100:
        raise OutsideRange(
            "A section lies beyond the ends of the bone.",
            remedy="Give positions above 0 and below 100 percent.",
        )
    axis = find_bone_axis(source, threshold)
    dz, dy, dx = source.spacing_mm
    across = 2 * _ROOM * axis.radius_mm
    pixel_mm = max(min(dz, dy, dx), across / _MOST_PIXELS_ACROSS)
    n_across = int(np.ceil(across / pixel_mm)) + 6
    share = places / 100 if proximal_first else 1 - places / 100
    heights = axis.low_mm + share * axis.length_mm
    images = _sample(
        source,
        middles=axis.point_mm + heights[:, None] * axis.direction,
        right_up=_directions(axis.direction, anterior_rad),
        n_across=n_across,
        pixel_mm=pixel_mm,
        background=threshold.background,
    )

    def measured(one: Threshold) -> StackProperties:
        return voxel_properties(
            images,
            threshold=one.level,
            pixel_mm=(pixel_mm, pixel_mm),
            within_voxels=one.within_voxels,
        )

    return ScannedBone(
        axis=axis,
        threshold=threshold,
        positions_percent=places,
        images=images,
        pixel_mm=pixel_mm,
        properties=measured(threshold),
        properties_low=measured(threshold.shifted(-0.1)),
        properties_high=measured(threshold.shifted(0.1)),
    )


def _directions(
    direction: NDArray[np.float64], anterior_rad: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the section's directions to the right and up (anterior), across the axis."""
    front = np.array([np.cos(anterior_rad), np.sin(anterior_rad), 0.0])
    up = front - (front @ direction) * direction
    up /= np.linalg.norm(up)
    return np.cross(up, direction), up


def _sample(
    source: SliceSource,
    *,
    middles: NDArray[np.float64],
    right_up: tuple[NDArray[np.float64], NDArray[np.float64]],
    n_across: int,
    pixel_mm: float,
    background: float,
) -> NDArray[np.generic]:
    """Fill the sections' pixels while the stack is read once, slab by slab."""
    right, up = right_up
    n_slices, n_rows, _ = source.shape
    dz, dy, dx = source.spacing_mm
    steps = (np.arange(n_across) - (n_across - 1) / 2) * pixel_mm
    # Offsets of the pixels from the middle of a section: rows go down, columns right.
    offset = -steps[:, None, None] * up + steps[None, :, None] * right
    images = np.full((len(middles), n_across, n_across), background).astype(source.dtype)
    reach = float(np.abs(offset[..., 2]).max())
    for start, slab in slabs(source, overlap=1):
        top = start + len(slab) - 1
        last = top == n_slices - 1
        low_mm, high_mm = start * dz, top * dz
        for index in np.flatnonzero(
            (middles[:, 2] + reach >= low_mm) & (middles[:, 2] - reach <= high_mm)
        ):
            z = (offset[..., 2] + middles[index, 2]) / dz - start
            here = (z >= 0) & ((z <= len(slab) - 1) if last else (z < len(slab) - 1))
            if not here.any():
                continue
            place = offset[here] + middles[index]
            coordinates = np.stack([z[here], n_rows - 1 - place[:, 1] / dy, place[:, 0] / dx])
            grey: Any = slab
            values = map_coordinates(
                grey, coordinates, order=1, mode="constant", cval=background, output=float
            )
            if np.issubdtype(images.dtype, np.integer):
                values = np.round(values)
            images[index][here] = values.astype(images.dtype)
    return images
