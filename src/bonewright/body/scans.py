"""Scans of a modelled body or of a mounted skeleton: checked, mended or refused, weighed.

A surface encloses a volume only if it is closed. Closed surfaces are told without joining
their corners, from a sum over edges that cancels exactly where each edge is used once either
way; an open one is given to a mesh library to be stitched, and refused if it stays open.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.body.decisions import Places, decision_on
from bonewright.body.solids import Mesh, mesh_measures
from bonewright.body.stitching import stitched_mesh
from bonewright.body.windings import winding_shares
from bonewright.errors import NotEnoughEvidence, OutsideRange
from bonewright.findings import Doubt, RowRef
from bonewright.quantity import Draws
from bonewright.study.model import BodyScan, Surface

__all__ = [
    "HULL_MULTIPLIER",
    "ScannedBody",
    "SoundSurface",
    "doubt_scans",
    "is_closed",
    "sound_surface",
    "weigh_scans",
]

# Mammals' bodies weigh 21 % more than the convex hulls of their skeletons (Sellers et al.
# 2012, multiplier from memory); a bird's body may well differ, so the range is wide (common
# practice).
HULL_MULTIPLIER = (1.21, 1.0, 1.5)

_CHUNK = 500_000
_CROSSING_STATED = 0.002
_CROSSING_REFUSED = 0.25
_LENGTH_TOLERANCE_LN = float(np.log(1.15))
_GUESSES = {
    "the file is in cm, not mm": 10.0,
    "the file is in mm, not cm": 0.1,
    "the file is in m, not mm": 1000.0,
    "the file is in mm, not m": 0.001,
    "the file is in inches, not mm": 25.4,
    "the file is in mm, not inches": 1 / 25.4,
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SoundSurface:
    """A closed surface in the file's unit, facing outwards, and what was mended to get it.

    ``counted_twice`` is the share of the volume where the surface passes through itself; it
    is taken off ``volume``.
    """

    mesh: Mesh
    volume: float
    area: float
    repairs: tuple[str, ...]
    counted_twice: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ScannedBody:
    """One scanned body: life-size volume and mass, n draws.

    ``kind`` is 'body', or 'skeleton' where the volume is that of convex hulls.
    """

    body_id: str
    kind: str
    state: str
    volume_m3: float
    mass_draws_kg: Draws
    repairs: tuple[str, ...]
    rows: tuple[RowRef, ...]


def is_closed(surface: Surface) -> bool:
    """Whether each edge of the surface is used as often one way as the other.

    Notes
    -----
    Corners are known by their coordinates, so that loose triangles (as in STL) need not be
    joined. Each undirected edge gets a pseudo-random 64-bit number from its two corners,
    counted positive one way and negative the other; the sum over all edges is 0 for a closed
    surface, and for an open one with a chance of 2^-64.
    """
    total = np.uint64(0)
    marks = _corner_marks(surface.vertices)
    for start in range(0, len(surface.faces), _CHUNK):
        corner = marks[surface.faces[start : start + _CHUNK]]
        ahead = corner[:, [1, 2, 0]]
        with np.errstate(over="ignore"):
            low, high = np.minimum(corner, ahead), np.maximum(corner, ahead)
            edge = _mixed(low + _mixed(high))
            signed = np.where(corner < ahead, edge, np.uint64(0) - edge)
            signed[corner == ahead] = 0
            total += signed.sum(dtype=np.uint64)
    return bool(total == 0)


def _corner_marks(vertices: NDArray[np.float64]) -> NDArray[np.uint64]:
    marks = np.empty(len(vertices), dtype=np.uint64)
    for start in range(0, len(vertices), _CHUNK):
        # Adding nought makes -0 the same corner as 0.
        some = np.ascontiguousarray(vertices[start : start + _CHUNK], dtype=np.float64) + 0.0
        bits = some.view(np.uint64)
        with np.errstate(over="ignore"):
            mixed = _mixed(_mixed(_mixed(bits[:, 0]) + bits[:, 1]) + bits[:, 2])
        marks[start : start + _CHUNK] = mixed
    return marks


def _mixed(bits: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """Mix bits so that neighbouring numbers have nothing in common (the splitmix64 steps)."""
    bits = bits + np.uint64(0x9E3779B97F4A7C15)
    bits = (bits ^ (bits >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    bits = (bits ^ (bits >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return bits ^ (bits >> np.uint64(31))


def sound_surface(surface: Surface) -> SoundSurface:
    """Return a closed surface that faces outwards, or refuse.

    Raises
    ------
    OutsideRange
        If the surface is open and cannot be stitched, or runs through itself so much that it
        encloses no definite volume.
    """
    repairs: list[str] = []
    mesh = Mesh(vertices_mm=surface.vertices, faces=surface.faces)
    if not is_closed(surface):
        mesh, stitched = stitched_mesh(mesh)
        repairs += stitched
    measures = mesh_measures(mesh)
    volume = measures.volume_mm3
    if volume < 0:
        mesh = Mesh(vertices_mm=mesh.vertices_mm, faces=mesh.faces[:, ::-1])
        volume = -volume
        repairs.append("turned outside out")
    if volume <= 1e-9 * measures.area_mm2**1.5:
        raise OutsideRange(
            "A scan encloses no volume: its surface is flat, or its halves cancel.",
            remedy="Export it again from the scanning program as one closed surface.",
        )
    once, wrong = winding_shares(mesh)
    if wrong > _CROSSING_REFUSED:
        raise OutsideRange(
            f"A scan's surface runs through itself in {100 * wrong:.0f} % of its volume, so that"
            " it encloses no definite volume.",
            remedy="Make it solid in the scanning program (join, or wrap) and export it again.",
        )
    if wrong > _CROSSING_STATED:
        repairs.append(f"parts that pass through each other counted once ({100 * wrong:.1f} %)")
        volume *= once
    return SoundSurface(
        mesh=mesh,
        volume=volume,
        area=measures.area_mm2,
        repairs=tuple(repairs),
        counted_twice=wrong,
    )


def doubt_scans(
    scans: Sequence[BodyScan],
    *,
    bone_draws_mm: Mapping[tuple[str, str], Draws],
    kept: Places,
    set_aside: Places,
) -> tuple[Doubt, ...]:
    """Hold the length checked on each scan against the average skeleton's bone.

    A scan is doubted where the two differ by more than 15 %, or where the length is longer
    than the whole scan or a fiftieth of it: its unit, its scale or the length is wrong. It is
    doubted too where the skeleton has no such bone, without being held out.
    """
    doubts = []
    for scan in scans:
        decided = decision_on(scan.ref, kept, set_aside)
        size_mm = float(np.ptp(scan.surface.vertices, axis=0).max()) * scan.to_life_size_mm
        bone = bone_draws_mm.get((scan.element, scan.code))
        found = f"{scan.checked_mm:.4g} mm at life size"
        if bone is None:
            doubts.append(
                Doubt(
                    ref=scan.ref,
                    column="measurementType",
                    kind="scale not checked",
                    found=f"{scan.element} {scan.code}",
                    expected="a measurement that the average skeleton has",
                    mend="Check the scan with a bone that has been measured.",
                    held_out=False,
                    decided=decided,
                )
            )
            continue
        known_mm = float(np.median(bone))
        apart = float(np.log(scan.checked_mm / known_mm))
        out_of_bounds = not size_mm / 50 <= scan.checked_mm <= 1.01 * size_mm
        if abs(apart) <= _LENGTH_TOLERANCE_LN and not out_of_bounds:
            continue
        guess = [words for words, factor in _GUESSES.items() if abs(apart + np.log(factor)) < 0.12]
        doubts.append(
            Doubt(
                ref=scan.ref,
                column="checkLength" if out_of_bounds else "lengthUnit",
                kind="wrong unit or scale",
                found=found + f", on a scan {size_mm:.4g} mm across",
                expected=f"about {known_mm:.4g} mm, as the average {scan.element} {scan.code} has",
                mend=f"Probably {guess[0]}."
                if guess
                else "Look at the file's unit, the scale and the length checked.",
                held_out=decided != "keep",
                decided=decided,
            )
        )
    return tuple(doubts)


def weigh_scans(
    scans: Sequence[BodyScan],
    *,
    density_draws_kg_m3: Draws,
    shape_draws: Draws,
    rng: np.random.Generator,
) -> tuple[dict[str, ScannedBody], dict[str, str]]:
    """Weigh each scanned body: its volume, or the hulls of its skeleton's parts, times density.

    Returns
    -------
    bodies : dict from body to ScannedBody
    refused : dict from body to the reason why it has no mass
    """
    bodies: dict[str, ScannedBody] = {}
    refused: dict[str, str] = {}
    groups: dict[tuple[str, str], list[BodyScan]] = {}
    for scan in scans:
        groups.setdefault((scan.body_id, scan.kind), []).append(scan)
    low_sd, high_sd = (
        (HULL_MULTIPLIER[0] - HULL_MULTIPLIER[1]),
        (HULL_MULTIPLIER[2] - HULL_MULTIPLIER[0]),
    )
    for (body_id, kind), of_body in groups.items():
        name = body_id if (body_id not in bodies) else f"{body_id} {kind}"
        try:
            volume_mm3, repairs = _volume(of_body, kind)
        except (OutsideRange, NotEnoughEvidence) as error:
            refused[name] = str(error)
            continue
        factor = shape_draws
        if kind == "skeleton":
            part = rng.standard_normal(len(shape_draws)) / 1.959963984540054
            factor = HULL_MULTIPLIER[0] + part * np.where(part < 0, low_sd, high_sd)
        bodies[name] = ScannedBody(
            body_id=name,
            kind=kind,
            state=of_body[0].state,
            volume_m3=volume_mm3 * 1e-9,
            mass_draws_kg=volume_mm3 * 1e-9 * factor * density_draws_kg_m3,
            repairs=repairs,
            rows=tuple(scan.ref for scan in of_body),
        )
    return bodies, refused


def _volume(scans: Sequence[BodyScan], kind: str) -> tuple[float, tuple[str, ...]]:
    if kind == "skeleton":
        return sum(_hull_volume(scan.surface) * scan.to_life_size_mm**3 for scan in scans), ()
    sound = [sound_surface(scan.surface) for scan in scans]
    # Several scans of one body are repeats.
    volumes = [s.volume * scan.to_life_size_mm**3 for s, scan in zip(sound, scans, strict=True)]
    repairs = tuple(
        f"{scan.scan_id}: {words}"
        for s, scan in zip(sound, scans, strict=True)
        for words in s.repairs
    )
    return float(np.exp(np.mean(np.log(volumes)))), repairs


def _hull_volume(surface: Surface) -> float:
    """Return the volume of the convex hull of a surface's corners."""
    from manifold3d import Manifold

    points = np.unique(surface.vertices.astype(np.float32), axis=0)
    centre = points.mean(axis=0)
    volume = float(Manifold.hull_points(points - centre).volume())
    if volume <= 0:
        raise OutsideRange(
            "The points of a scanned part lie in one plane, so that their hull has no volume.",
            remedy="Scan the part whole.",
        )
    return volume
