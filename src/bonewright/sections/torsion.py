"""The torsion constant of a section whose wall is thick or uneven.

Twisting warps a section that is not round. Saint-Venant's warping function is found by
finite elements (scikit-fem) on a mesh stretched between the outer edge and the marrow
space, which suits one cavity that can be seen whole from its middle, or a solid section.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import OutsideRange
from bonewright.sections.shape import Ring

__all__ = ["torsion_constant"]

_LAYERS = 3
_WIDEST_STEP_RAD = 2 * np.pi / 48
# A solid section is meshed around a pinhole: a hundredth of its size changes the constant by
# less than a ten-thousandth.
_PINHOLE = 0.01


def torsion_constant(rings_mm: Sequence[Ring]) -> float:
    """Return Saint-Venant's torsion constant J of a section, in mm4.

    Parameters
    ----------
    rings_mm : sequence of (n_points, 2)
        The outer ring and at most one hole.

    Raises
    ------
    OutsideRange
        If there are several cavities, or a ring doubles back as seen from the cavity's middle;
        Bredt's formula for thin walls (``torsion_constant_thin_wall_mm4``) serves there.

    Notes
    -----
    J = polar moment less what warping saves, with quadratic elements between every two
    corners of the rings. Source: [TimoshenkoGoodier1970]_.
    """
    if len(rings_mm) > 2:
        raise OutsideRange(
            "The section has more than one cavity.",
            remedy="Use the torsion constant for thin walls.",
        )
    import skfem
    from skfem.helpers import dot, grad

    points, quads = _mesh(rings_mm)
    basis = skfem.Basis(skfem.MeshQuad(points, quads), skfem.ElementQuad2())

    def stiffness(u: Any, v: Any, _: Any) -> Any:
        return dot(grad(u), grad(v))

    def twist(v: Any, w: Any) -> Any:
        return w.x[1] * grad(v)[0] - w.x[0] * grad(v)[1]

    def polar(w: Any) -> Any:
        return w.x[0] ** 2 + w.x[1] ** 2

    load = skfem.LinearForm(twist).assemble(basis)
    matrix = skfem.BilinearForm(stiffness).assemble(basis)
    # Warping is known but for a constant: one node is held.
    warping = skfem.solve(*skfem.condense(matrix, load, D=np.array([0])))
    return float(skfem.Functional(polar).assemble(basis) - load @ warping)


def _mesh(rings_mm: Sequence[Ring]) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Return nodes (2, n) about the middle of the cavity, and quadrilaterals (4, n)."""
    outer = np.asarray(rings_mm[0], dtype=np.float64)
    hole = np.asarray(rings_mm[1] if len(rings_mm) > 1 else rings_mm[0], dtype=np.float64)
    middle = _centroid(hole)
    angles_out, radii_out = _seen_from(outer - middle)
    angles_in, radii_in = _seen_from(hole - middle)
    angles = _filled(np.union1d(np.round(angles_out, 9), np.round(angles_in, 9)))
    far = _radius_at(angles, angles_out, radii_out)
    near = _radius_at(angles, angles_in, radii_in)
    if len(rings_mm) == 1:
        near = near * _PINHOLE
    if not np.all(far > near):
        raise _not_star_shaped()
    share = np.linspace(0, 1, _LAYERS + 1)[:, None]
    if len(rings_mm) == 1:
        share = share**2
    radius = near + share * (far - near)
    points = np.stack([(radius * np.cos(angles)).ravel(), (radius * np.sin(angles)).ravel()])
    n_angles = len(angles)
    one = np.arange(n_angles)
    following = (one + 1) % n_angles
    quads = [
        np.stack([one + low, one + low + n_angles, following + low + n_angles, following + low])
        for low in range(0, _LAYERS * n_angles, n_angles)
    ]
    return points, np.concatenate(quads, axis=1)


def _seen_from(ring: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return angles (ascending) and radii of a ring's corners, seen from the origin."""
    x, y = ring.T
    if np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) < 0:
        ring = ring[::-1]
    angles = np.arctan2(ring[:, 1], ring[:, 0])
    steps = np.diff(np.r_[angles, angles[0]])
    steps = (steps + np.pi) % (2 * np.pi) - np.pi
    if np.any(steps <= 0) or not np.isclose(steps.sum(), 2 * np.pi):
        raise _not_star_shaped()
    start = int(np.argmin(angles))
    return np.roll(angles, -start), np.roll(np.hypot(*ring.T), -start)


def _radius_at(
    wanted: NDArray[np.float64], angles: NDArray[np.float64], radii: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return where rays from the origin meet the ring's straight edges."""
    after = np.searchsorted(angles, wanted, side="right") % len(angles)
    before = after - 1
    a, b = radii[before], radii[after]
    to_a, to_b = wanted - angles[before], angles[after] - wanted
    turn = angles[after] - angles[before]
    return a * b * np.sin(turn) / (a * np.sin(to_a) + b * np.sin(to_b))


def _filled(angles: NDArray[np.float64]) -> NDArray[np.float64]:
    """Put further angles where two neighbours lie too far apart, and drop near doubles."""
    angles = angles[np.r_[True, np.diff(angles) > 1e-4]]
    steps = np.diff(np.r_[angles, angles[0] + 2 * np.pi])
    parts = np.maximum(np.ceil(steps / _WIDEST_STEP_RAD).astype(int), 1)
    return np.concatenate(
        [
            start + step * np.arange(n) / n
            for start, step, n in zip(angles, steps, parts, strict=True)
        ]
    )


def _centroid(ring: NDArray[np.float64]) -> NDArray[np.float64]:
    origin = ring.mean(axis=0)
    x, y = (ring - origin).T
    cross = x * np.roll(y, -1) - np.roll(x, -1) * y
    first = [(cross * (x + np.roll(x, -1))).sum(), (cross * (y + np.roll(y, -1))).sum()]
    return np.asarray(origin + np.array(first) / (3 * cross.sum()))


def _not_star_shaped() -> OutsideRange:
    return OutsideRange(
        "An edge of the section doubles back, as seen from the middle of its cavity.",
        remedy="Use the torsion constant for thin walls.",
    )
