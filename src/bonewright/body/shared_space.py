"""What the segments of one body share, told from points spread evenly through each of them.

Each volume goes to the first segment that holds it; skin is what lies in no other segment.
The points are a fixed low-discrepancy set, so that a little change of a body makes a little
change of its shares. Against solids joined by a solid-modelling library a share is met within
half a per cent of the segment.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from bonewright.body.hoop_curves import curve_through
from bonewright.body.loft import LoftedSegment, arc, closed_ends, loft_mesh, sizes_along
from bonewright.body.loft_moments import loft_moments
from bonewright.body.places import Place, place_segments, to_world
from bonewright.body.plan import BodyPlan
from bonewright.quantity import Draws

if TYPE_CHECKING:
    from bonewright.body.inside_kernels import Holders

__all__ = ["OwnPart", "joined_volume_mm3", "own_parts"]

_POINTS = 2048
_PLACES = 257
# Places a span of hoops from which the evenly spread ones are read off straight.
_FINE = 65
_CORNERS = (40, 5)
# A mesh lies within its loft; the box around it is widened by this share of its size.
_MARGIN = 0.03
# Less of a segment than this is lost in the unevenness of the points.
_LEAST_SHARE = 2e-3
_NOTHING = 1e-300


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OwnPart:
    """The part of a segment that no earlier segment holds; of the left one of a pair.

    ``share`` of its volume, ``shift`` (3,) of its centre in its own axes and by its length,
    and ``area_mm2`` of its surface that lies in no other segment.
    """

    share: float
    shift: Draws
    area_mm2: float


def own_parts(
    plan: BodyPlan, lofts: Mapping[str, LoftedSegment], swing_rad: Draws
) -> dict[str, OwnPart]:
    """Divide the body of one draw among its segments; those of a plan come parents first.

    Parameters
    ----------
    swing_rad : (1,) float
        How far the balancing joints are turned.
    """
    from bonewright.body.inside_kernels import held_by_others

    names = list(lofts)
    places = place_segments(plan, lofts, swing_rad)
    meshes = {
        name: loft_mesh(loft, around=_CORNERS[0], places=_CORNERS[1])
        for name, loft in lofts.items()
    }
    corners = {name: to_world(places[name], vertices[0]) for name, (vertices, _) in meshes.items()}
    holders = _holders(plan, lofts, places, corners)
    inner = {name: _points_within(loft) for name, loft in lofts.items()}
    within = np.concatenate([to_world(places[name], points) for name, (points, _) in inner.items()])
    taken = held_by_others(within, np.repeat(np.arange(len(names)), _POINTS), False, holders)
    faces = {name: _faces_of(corners[name], meshes[name][1]) for name in names}
    middles = np.concatenate([middle for middle, _ in faces.values()])
    counts = [len(area) for _, area in faces.values()]
    hidden = held_by_others(middles, np.repeat(np.arange(len(names)), counts), True, holders)
    hidden_of = np.split(hidden, np.cumsum(counts)[:-1])
    parts = {}
    for index, name in enumerate(names):
        points, weight = inner[name]
        free = ~taken[index * _POINTS : (index + 1) * _POINTS]
        share = float(weight[free].sum() / weight.sum())
        shift = np.zeros(3)
        if _LEAST_SHARE < share < 1 - _LEAST_SHARE:
            own = np.average(points[free], axis=0, weights=weight[free])
            shift = own - np.average(points, axis=0, weights=weight)
        parts[name] = OwnPart(
            share=share if share > _LEAST_SHARE else 0.0,
            shift=shift / float(lofts[name].length_mm[0]),
            area_mm2=float(faces[name][1][~hidden_of[index]].sum()),
        )
    return parts


def joined_volume_mm3(
    plan: BodyPlan, lofts: Mapping[str, LoftedSegment], swing_rad: Draws
) -> float:
    """Return the volume of one draw's segments joined, what they share counted once."""
    parts = own_parts(plan, lofts, swing_rad)
    return sum(
        plan.segments[name].copies * parts[name].share * float(loft_moments(loft).volume_mm3[0])
        for name, loft in lofts.items()
    )


def _faces_of(corners: Draws, faces: NDArray[np.int32]) -> tuple[Draws, Draws]:
    """Return the middle of each face, (m, 3), and its area, (m,)."""
    a, b, c = (corners[faces[:, corner]] for corner in range(3))
    normal = np.cross(b - a, c - a)
    return (a + b + c) / 3, np.sqrt(np.einsum("ij,ij->i", normal, normal)) / 2


def _holders(
    plan: BodyPlan,
    lofts: Mapping[str, LoftedSegment],
    places: Mapping[str, Place],
    corners: Mapping[str, Draws],
) -> "Holders":
    from bonewright.body.inside_kernels import Holders

    low = np.array([points.min(axis=0) for points in corners.values()])
    high = np.array([points.max(axis=0) for points in corners.values()])
    margin = _MARGIN * (high - low).max(axis=1, keepdims=True)
    ends = [(float(loft.station[0]), float(loft.station[-1])) for loft in lofts.values()]
    return Holders(
        origin=np.array([places[name].origin_mm[0] for name in lofts]),
        turn=np.array([places[name].turn[0] for name in lofts]),
        length=np.array([float(loft.length_mm[0]) for loft in lofts.values()]),
        bend=np.array([loft.bend_rad for loft in lofts.values()]),
        begin=np.array([begin for begin, _ in ends]),
        end=np.array([end for _, end in ends]),
        sizes=np.array([_sizes(loft) for loft in lofts.values()]),
        low=low - margin,
        high=high + margin,
        paired=np.array([plan.segments[name].copies == 2 for name in lofts]),
    )


def _sizes(loft: LoftedSegment) -> Draws:
    """Return half-width, two heights and two exponents at evenly spread places, (t, 5)."""
    curve = curve_through(loft.station, closed=closed_ends(loft), places=_FINE)
    even = np.linspace(loft.station[0], loft.station[-1], _PLACES)
    return np.stack(
        (
            *(np.interp(even, curve.at, values[0]) for values in sizes_along(loft, curve)),
            np.interp(even, loft.station, loft.dorsal_exponent),
            np.interp(even, loft.station, loft.ventral_exponent),
        ),
        axis=1,
    )


@lru_cache(maxsize=1)
def _even_points() -> Draws:
    """Return points spread evenly in a unit cube, (3, n): multiples of three irrationals.

    Those are powers of the root of x^4 = x + 1, the plastic number's sister in three
    dimensions (common practice).
    """
    root = 1.2207440846057596
    steps = np.array([[root**-1], [root**-2], [root**-3]])
    return np.asarray((0.5 + steps * np.arange(1, _POINTS + 1)) % 1.0)


def _points_within(loft: LoftedSegment) -> tuple[Draws, Draws]:
    """Return points spread through a loft of one draw, (n, 3) mm in its own axes, and weights.

    A point's weight makes up for what the even spread over angles leaves out: how far the
    outline reaches there, and how a bend crowds the inner side.
    """
    sizes = np.stack((loft.half_width_mm[0], loft.dorsal_mm[0], loft.ventral_mm[0]))
    size = float(sizes.max())
    at, y, height, weight = _unit_points(
        tuple(map(float, loft.station)),
        # Bodies of one plan that differ in size alone have the same points.
        tuple(np.round(sizes / size, 9).ravel().tolist()),
        (*map(float, loft.dorsal_exponent), *map(float, loft.ventral_exponent)),
    )
    length = float(loft.length_mm[0])
    up = size * height
    axis_x, axis_z, normal_x, normal_z = arc(at, loft.bend_rad)
    points = np.stack(
        (length * axis_x + up * normal_x, size * y, length * axis_z + up * normal_z), axis=1
    )
    return points, weight * (1 - loft.bend_rad / length * up)


@lru_cache(maxsize=128)
def _unit_points(
    stations: tuple[float, ...], sizes: tuple[float, ...], exponents: tuple[float, ...]
) -> tuple[Draws, Draws, Draws, Draws]:
    """Return where points lie along the axis, aside and above it, and their weights, (n,) each.

    ``sizes`` are the hoops' half-widths, dorsal and ventral heights one after another, the
    largest 1; ``exponents`` the dorsal and then the ventral ones.
    """
    half_width, dorsal_height, ventral_height = np.array(sizes).reshape(3, 1, -1)
    upper, lower = np.array(exponents).reshape(2, -1)
    of_hoops = _sizes(
        LoftedSegment(
            station=np.array(stations),
            half_width_mm=half_width,
            dorsal_mm=dorsal_height,
            ventral_mm=ventral_height,
            dorsal_exponent=upper,
            ventral_exponent=lower,
            length_mm=np.ones(1),
        )
    )
    even = np.linspace(stations[0], stations[-1], _PLACES)
    across = of_hoops[:, 0] * (of_hoops[:, 1] + of_hoops[:, 2])
    # Trapezia of the area along the axis, turned round to read off places.
    filled = np.concatenate(([0.0], np.cumsum((across[1:] + across[:-1]) / 2)))
    first, second, third = _even_points()
    at = np.interp(first * filled[-1], filled, even)
    width, dorsal, ventral, up_exponent, down_exponent = (
        np.interp(at, even, of_hoops[:, column]) for column in range(5)
    )
    # The second coordinate chooses the half, and then, stretched, the angle in it.
    share_above = dorsal / np.maximum(dorsal + ventral, _NOTHING)
    above = second < share_above
    into_half = np.where(above, second, second - share_above)
    angle = np.pi * into_half / np.maximum(np.where(above, share_above, 1 - share_above), _NOTHING)
    exponent = np.where(above, up_exponent, down_exponent)
    cosine, sine = np.abs(np.cos(angle)), np.abs(np.sin(angle))
    reach = (cosine**exponent + sine**exponent) ** (-1 / exponent)
    out = np.sqrt(third) * reach
    y = width * out * np.cos(angle)
    height = np.where(above, dorsal, -ventral) * out * sine
    found = (at, y, height, reach**2)
    for array in found:
        array.flags.writeable = False
    return found
