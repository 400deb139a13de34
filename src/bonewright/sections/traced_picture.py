"""The contour of a section in a picture, with what the threshold leaves open."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.sections.contour import contour_rings
from bonewright.sections.outline import traced_outline
from bonewright.sections.shape import Ring, SectionProperties
from bonewright.sections.threshold import Threshold, ThresholdRule, choose_threshold

__all__ = ["TracedPicture", "trace_picture"]

_THRESHOLD_DOUBT = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class TracedPicture:
    """A contour put forward for acceptance, with its properties.

    ``rings_mm`` have x lateral and y anterior; ``rings_picture_mm`` lie as in the picture.
    ``edge_doubt_mm`` is how far a tenth of the contrast either way moves the edge, the mean
    over the outline; ``modulus_range_mm3`` the section moduli at those two thresholds.
    """

    threshold: Threshold
    rings_mm: tuple[Ring, ...]
    rings_picture_mm: tuple[Ring, ...]
    properties: SectionProperties
    modulus_range_mm3: tuple[float, float]
    edge_doubt_mm: float


def trace_picture(
    grey: NDArray[np.generic],
    *,
    pixel_mm: float,
    rule: ThresholdRule,
    level: float | None = None,
    anterior_rad: float = np.pi / 2,
) -> TracedPicture:
    """Trace a section in a grey picture in which bone is bright.

    Parameters
    ----------
    grey : (n_rows, n_columns)
        Grey values.
    pixel_mm : float
        Side of a pixel: length of the scale bar over its length in pixels.
    rule, level
        See :func:`bonewright.sections.threshold.choose_threshold`.
    anterior_rad : float
        Direction of the bone's front in the picture, anticlockwise from the right.
    """
    threshold = choose_threshold(grey, rule, level=level)

    def traced(one: Threshold) -> tuple[tuple[Ring, ...], SectionProperties]:
        rings = contour_rings(grey, one.level, pixel_mm=(pixel_mm, pixel_mm))
        turned = _turned(rings, np.pi / 2 - anterior_rad)
        return rings, traced_outline(turned)

    rings, properties = traced(threshold)
    fuller = traced(threshold.shifted(-_THRESHOLD_DOUBT))[1]
    sparer = traced(threshold.shifted(_THRESHOLD_DOUBT))[1]
    n_edges = 2.0 if properties.whole_area_mm2 > properties.area_mm2 else 1.0
    edges_mm = n_edges * properties.mean_perimeter_mm
    return TracedPicture(
        threshold=threshold,
        rings_mm=_turned(rings, np.pi / 2 - anterior_rad),
        rings_picture_mm=rings,
        properties=properties,
        modulus_range_mm3=(
            sparer.section_modulus_mediolateral_mm3,
            fuller.section_modulus_mediolateral_mm3,
        ),
        edge_doubt_mm=abs(fuller.area_mm2 - sparer.area_mm2) / 2 / edges_mm,
    )


def _turned(rings: tuple[Ring, ...], angle_rad: float) -> tuple[Ring, ...]:
    if abs(angle_rad) < 1e-12:
        return rings
    cosine, sine = float(np.cos(angle_rad)), float(np.sin(angle_rad))

    def turn(point: tuple[float, float]) -> tuple[float, float]:
        x, y = point
        return (cosine * x - sine * y, sine * x + cosine * y)

    return tuple(tuple(turn(point) for point in ring) for ring in rings)
