"""Hollow ellipses: what callipers can tell of a section."""

import numpy as np
from scipy.special import ellipe

from bonewright.errors import OutsideRange
from bonewright.sections.shape import (
    Integrals,
    Numbers,
    Ring,
    SectionProperties,
    derive,
    one_section,
)

__all__ = ["ellipse_perimeter", "ellipse_rings", "hollow_ellipse"]


def hollow_ellipse(
    outer_mediolateral_mm: float,
    outer_anteroposterior_mm: float,
    *,
    inner_mediolateral_mm: float,
    inner_anteroposterior_mm: float,
    hole_offset_mm: tuple[float, float] = (0.0, 0.0),
) -> SectionProperties:
    """Compute the properties of an ellipse with an elliptical hole, exactly.

    All four are whole diameters. A solid section has inner diameters of 0.
    ``hole_offset_mm`` is where the middle of the hole lies from the middle of the bone
    (lateral, anterior), which is the origin of the coordinates.

    Raises
    ------
    OutsideRange
        If an outer diameter is not positive or the hole does not fit inside.

    Notes
    -----
    Source: [Roark]_, I = pi (a b^3 - a1 b1^3) / 4 with semi-axes a (side to side) and b, and
    the parallel-axis theorem for a hole off the middle.

    Examples
    --------
    >>> tube = hollow_ellipse(20, 20, inner_mediolateral_mm=12, inner_anteroposterior_mm=12)
    >>> round(tube.section_modulus_mediolateral_mm3, 3)
    683.611
    """
    a, b = outer_mediolateral_mm / 2, outer_anteroposterior_mm / 2
    a1, b1 = inner_mediolateral_mm / 2, inner_anteroposterior_mm / 2
    x1, y1 = hole_offset_mm
    if not (a > a1 >= 0 and b > b1 >= 0 and _fits(a, b, hole=(a1, b1), offset=(x1, y1))):
        raise OutsideRange(
            "The marrow space does not fit inside the bone.",
            remedy="Give inner diameters (or walls) that leave bone all round.",
        )
    hole = np.pi * a1 * b1
    integrals = Integrals(
        area=np.pi * a * b - hole,
        x=-hole * x1,
        y=-hole * y1,
        xx=np.pi * a**3 * b / 4 - hole * (a1**2 / 4 + x1**2),
        yy=np.pi * a * b**3 / 4 - hole * (b1**2 / 4 + y1**2),
        xy=-hole * x1 * y1,
    )
    outer_perimeter = ellipse_perimeter(a, b)
    inner_perimeter = ellipse_perimeter(a1, b1) if hole > 0 else outer_perimeter

    def reach(x: Numbers, y: Numbers, dx: Numbers, dy: Numbers) -> Numbers:
        return np.hypot(a * dx, b * dy) - x * dx - y * dy

    def farthest(x: Numbers, y: Numbers) -> Numbers:
        return _farthest(a, b, x=float(x), y=float(y))

    return one_section(
        derive(
            integrals,
            reach=reach,
            farthest=farthest,
            whole_area=np.pi * a * b,
            mean_perimeter=(outer_perimeter + inner_perimeter) / 2,
        )
    )


def ellipse_perimeter(a: float, b: float) -> float:
    """Return the perimeter of an ellipse with semi-axes a and b."""
    longer, shorter = max(a, b), min(a, b)
    return float(4 * longer * ellipe(1 - (shorter / longer) ** 2))


def ellipse_rings(
    outer_mediolateral_mm: float,
    outer_anteroposterior_mm: float,
    *,
    inner_mediolateral_mm: float,
    inner_anteroposterior_mm: float,
    hole_offset_mm: tuple[float, float] = (0.0, 0.0),
    n_points: int = 72,
) -> tuple[Ring, ...]:
    """Draw a hollow ellipse as rings of points, in mm: the outer one, and the hole if any."""
    angles = np.linspace(0, 2 * np.pi, n_points, endpoint=False)

    def ring(across: float, along: float, middle: tuple[float, float]) -> Ring:
        x = middle[0] + across / 2 * np.cos(angles)
        y = middle[1] + along / 2 * np.sin(angles)
        return tuple(zip(x.tolist(), y.tolist(), strict=True))

    outer = ring(outer_mediolateral_mm, outer_anteroposterior_mm, (0.0, 0.0))
    if inner_mediolateral_mm <= 0 or inner_anteroposterior_mm <= 0:
        return (outer,)
    return outer, ring(inner_mediolateral_mm, inner_anteroposterior_mm, hole_offset_mm)


def _fits(a: float, b: float, *, hole: tuple[float, float], offset: tuple[float, float]) -> bool:
    angles = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    x = offset[0] + hole[0] * np.cos(angles)
    y = offset[1] + hole[1] * np.sin(angles)
    return bool(np.all((x / a) ** 2 + (y / b) ** 2 < 1))


def _farthest(a: float, b: float, *, x: float, y: float) -> float:
    """Return the distance from (x, y) to the farthest point of the ellipse."""
    if x == 0 and y == 0:
        return max(a, b)
    angles = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    start = angles[np.argmax(np.hypot(a * np.cos(angles) - x, b * np.sin(angles) - y))]
    # Newton's steps on the derivative of half the squared distance.
    angle = float(start)
    for _ in range(6):
        cosine, sine = np.cos(angle), np.sin(angle)
        slope = (b**2 - a**2) * sine * cosine + a * x * sine - b * y * cosine
        bend = (b**2 - a**2) * np.cos(2 * angle) + a * x * cosine + b * y * sine
        if abs(bend) < 1e-12 * a * b:
            break
        angle -= float(slope / bend)
    return float(
        max(
            np.hypot(a * np.cos(angle) - x, b * np.sin(angle) - y),
            np.hypot(a * np.cos(start) - x, b * np.sin(start) - y),
        )
    )
