"""A picture, or a photograph of a mount, held against the bones.

With a scale each marked length is compared in mm; without one the picture's own scale is
estimated from its other lengths, so that only proportions are judged and one wrong length
does not make the others look wrong.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from bonewright.quantity import Draws
from bonewright.study.model import MountMeasurement
from bonewright.testimony.marks import MarkedPicture
from bonewright.testimony.measures import distance_px
from bonewright.testimony.mount import MountCheck, judged

__all__ = ["BONE_LENGTHS", "BoneLength", "allowances_of", "audit_pictures"]

FEWEST_LENGTHS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneLength:
    """A length between two marks, and the bone measurement it answers to.

    ``least`` and ``most`` are what skin, sheath and flesh may add, as shares of the bone,
    where no row of the mount's table says it in mm (common practice).
    """

    title: str
    first: str
    second: str
    element: str
    code: str
    least: float
    most: float


BONE_LENGTHS: tuple[BoneLength, ...] = (
    BoneLength(
        title="length of the head with the bill",
        first="back of head",
        second="bill tip",
        element="skull",
        code="GL",
        least=0.02,
        most=0.15,
    ),
    BoneLength(
        title="depth of the head",
        first="crown",
        second="throat",
        element="skull",
        code="GH",
        least=0.08,
        most=0.35,
    ),
    BoneLength(
        title="length of the thigh",
        first="hip",
        second="knee",
        element="femur",
        code="GL",
        least=-0.05,
        most=0.12,
    ),
    BoneLength(
        title="length of the lower leg",
        first="knee",
        second="heel joint",
        element="tibiotarsus",
        code="GL",
        least=-0.05,
        most=0.08,
    ),
    BoneLength(
        title="length of the shank",
        first="heel joint",
        second="toe root",
        element="tarsometatarsus",
        code="GL",
        least=-0.03,
        most=0.10,
    ),
)

# How far a length in a picture may be off through view, hand and marking: a photograph taken
# square on, and a drawing (common practice).
_PHOTOGRAPH_SD = 0.03
_DRAWING_SD = 0.10


def allowances_of(
    mount: Sequence[MountMeasurement],
) -> dict[tuple[str, str], tuple[float, float]]:
    """Return what soft tissue adds, mm, by the bone measurements that pictures show."""
    shown = {(length.element, length.code) for length in BONE_LENGTHS}
    return {
        (row.element, row.code): (row.allowance_low_mm, row.allowance_high_mm)
        for row in mount
        if (row.element, row.code) in shown
    }


def audit_pictures(
    marked: Sequence[MarkedPicture],
    *,
    allowances_mm: Mapping[tuple[str, str], tuple[float, float]],
    mean_draws_mm: Mapping[tuple[str, str], Draws],
    between_sd_mm: Mapping[tuple[str, str], float],
    rng: np.random.Generator,
) -> dict[str, tuple[MountCheck, ...]]:
    """Compare the marked lengths of each picture with bone and soft tissue, by picture.

    Without a scale at least three lengths are needed; with fewer nothing is judged. The
    individuals that right pictures could show are drawn once for photographs and once for
    drawings. ``allowances_mm`` are the least and most that soft tissue adds to a bone
    (:func:`allowances_of`), where a row of the mount says so.
    """
    of_photographs, of_drawings = rng.spawn(2)
    expected = {
        shows_mount: {
            length: _expected_mm(
                length,
                mean_draws_mm=mean_draws_mm[length.element, length.code],
                between_sd_mm=between_sd_mm[length.element, length.code],
                allowance=allowances_mm.get((length.element, length.code)),
                sd=sd,
                rng=own,
            )
            for length in BONE_LENGTHS
            if (length.element, length.code) in mean_draws_mm
            and (length.element, length.code) in between_sd_mm
        }
        for shows_mount, sd, own in (
            (True, _PHOTOGRAPH_SD, of_photographs),
            (False, _DRAWING_SD, of_drawings),
        )
    }
    return {
        one.picture.picture_id: _audit_picture(one, expected[one.picture.shows_mount])
        for one in marked
    }


def _audit_picture(
    marked: MarkedPicture, known: Mapping[BoneLength, Draws]
) -> tuple[MountCheck, ...]:
    """Compare the marked lengths of one picture with draws of what is right, mm."""
    picture = marked.picture
    expected = {
        length: draws
        for length, draws in known.items()
        if length.first in marked.points and length.second in marked.points
    }
    found_px = {
        length: distance_px(marked.points, length.first, length.second) for length in expected
    }
    mm_per_px = _scale(marked)
    checks = []
    for length, draws in expected.items():
        others = [other for other in expected if other is not length and found_px[other] > 0]
        right = draws
        if mm_per_px is None:
            if len(others) < FEWEST_LENGTHS - 1:
                continue
            # Expected in mm of the picture's own scale, in which the others come out right.
            own = _middle(np.array([expected[other] / found_px[other] for other in others]))
            typical = float(np.median(own))
            found, right = found_px[length] * typical, draws * (typical / own)
        else:
            found = found_px[length] * mm_per_px
        checks.append(
            judged(
                f"{picture.picture_id}.{length.element}.{length.code}",
                mount_id=picture.picture_id,
                title=length.title,
                place=(length.element, length.code),
                found_mm=found,
                expected_mm=right,
            )
        )
    return tuple(checks)


def _middle(rows: Draws) -> Draws:
    """Return the median of a few rows, (n_draws,): of these, leaving out the ends is soonest."""
    n = len(rows)
    if n <= 4:
        inner = rows.sum(axis=0)
        if n > 2:
            inner = inner - rows.min(axis=0) - rows.max(axis=0)
        return np.asarray(inner / (1 if n % 2 else 2))
    ordered = np.sort(rows, axis=0)
    return np.asarray((ordered[(n - 1) // 2] + ordered[n // 2]) / 2, dtype=np.float64)


def _expected_mm(
    length: BoneLength,
    *,
    mean_draws_mm: Draws,
    between_sd_mm: float,
    allowance: tuple[float, float] | None,
    sd: float,
    rng: np.random.Generator,
) -> Draws:
    n = len(mean_draws_mm)
    bone = mean_draws_mm + between_sd_mm * rng.standard_normal(n)
    if allowance is None:
        soft = bone * rng.uniform(length.least, length.most, n)
    else:
        soft = rng.uniform(*allowance, n)
    return np.asarray((bone + soft) * np.exp(sd * rng.standard_normal(n)), dtype=np.float64)


def _scale(marked: MarkedPicture) -> float | None:
    points, scale_mm = marked.points, marked.picture.scale_mm
    if scale_mm is None or "scale start" not in points or "scale end" not in points:
        return None
    length = distance_px(points, "scale start", "scale end")
    return scale_mm / length if length > 0 else None
