"""The figure as pieces to print: cut to the bed, with sockets for pegs, laid flat, weighed."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np

from bonewright.body.solids import Mesh, mesh_measures, mesh_of, solid_of
from bonewright.quantity import Draws
from bonewright.workshop.figure_to_build import FigureToBuild, SegmentToBuild
from bonewright.workshop.hoop_cards import Bar
from bonewright.workshop.print_bores import bored_through, bores_of
from bonewright.workshop.print_cutting import (
    Bed,
    CutFace,
    Piece,
    cut_faces,
    cut_places,
    cut_to_bed,
)
from bonewright.workshop.print_hollow import floored, hollow_within, least_wall_mm
from bonewright.workshop.print_pegs import SIDES_MM, Peg, pegs_of_face, takes_peg, with_sockets

if TYPE_CHECKING:
    from manifold3d import Manifold

__all__ = ["FILAMENT_G_CM3", "PrintChoices", "PrintPart", "PrintSet", "print_sets"]

# Density of polylactide filament, g/cm3: makers' sheets give 1.24 (common practice).
FILAMENT_G_CM3: Final = 1.24
# Larger pegs would make the floors of a hollow print thick and heavy.
_HOLLOW_PEG_MM: Final = 8.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintChoices:
    """How pieces are printed.

    ``wall_mm`` is the thickness of the printed walls; ``infill_percent`` how much of the
    inside is filled. With ``hollow`` the pieces themselves have walls of that thickness and
    nothing inside, as resin printers want them.
    """

    bed: Bed
    wall_mm: float = 2.0
    infill_percent: float = 10.0
    hollow: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PrintPart:
    """One piece, laid on the bed.

    ``mesh`` stands on z = 0 amid the bed; ``centre_mm`` (3,) is where its centre belongs in
    the figure. ``volume_mm3`` is the piece's before sockets and bores were cut; ``sockets``
    lists the sides of its pegs, ``bored`` says whether the armature passes through.
    ``mass_g`` is that of the print.
    """

    name: str
    mesh: Mesh
    centre_mm: Draws
    size_mm: Draws
    volume_mm3: float
    sockets: tuple[float, ...]
    face_down: str
    mass_g: float
    bored: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PrintSet:
    """A solid and the pieces it is printed in.

    ``pegs`` counts pegs by their side in mm; ``glued`` counts joints too thin for any.
    ``least_wall_mm`` is the thinnest wall measured on a hollow set, else None.
    """

    name: str
    meaning: str
    volume_mm3: float
    places_mm: tuple[tuple[float, ...], ...]
    parts: tuple[PrintPart, ...]
    pegs: dict[float, int] = field(default_factory=dict)
    glued: int = 0
    least_wall_mm: float | None = None

    @property
    def mass_g(self) -> float:
        """Mass of all its prints."""
        return sum(part.mass_g for part in self.parts)


def print_sets(
    figure: FigureToBuild, choices: PrintChoices, *, bars: Sequence[Bar] = ()
) -> tuple[PrintSet, ...]:
    """Return the whole figure, its head, its feet and its skeleton as pieces to print.

    Head and feet are bored for the bars of the armature that they are put on.
    """
    sets = []
    if figure.layer != "skeleton":
        every = [segment for segment in figure.segments if segment.own is not None]
        sets.append(_cut_set("body", "the whole figure", [figure.whole], every, choices=choices))
        for name, meaning, wanted in (
            ("head", "head and beak, for a figure of clay", ("head", "beak")),
            ("feet", "feet and toes, for a figure of clay", ("foot", "toe")),
        ):
            chosen = [s for s in every if s.segment.rpartition(" ")[2] in wanted]
            if chosen:
                meshes = [segment.mesh for segment in chosen]
                sets.append(_cut_set(name, meaning, meshes, chosen, choices=choices, bars=bars))
    bones = [bone.mesh for bone in figure.bones]
    if bones:
        sets.append(
            _cut_set(
                "skeleton",
                "bones of measured sizes, simply shaped, and rods between them",
                bones,
                (),
                choices=choices,
            )
        )
    return tuple(sets)


def _cut_set(
    name: str,
    meaning: str,
    meshes: Sequence[Mesh],
    segments: Sequence[SegmentToBuild],
    *,
    choices: PrintChoices,
    bars: Sequence[Bar] = (),
) -> PrintSet:
    from manifold3d import Manifold, OpType

    solid = Manifold.batch_boolean([solid_of(mesh) for mesh in meshes], OpType.Add)
    places = cut_places(solid, choices.bed)
    pieces = cut_to_bed(solid, places)
    faces = cut_faces(solid, places)
    largest = _HOLLOW_PEG_MM if choices.hollow else SIDES_MM[0]
    pegs_by_face: list[tuple[CutFace, tuple[Peg, ...]]] = []
    pegs: list[Peg] = []
    for face in faces:
        on_face = pegs_of_face(face, pieces, taken=pegs, at_most_mm=largest)
        pegs_by_face.append((face, on_face))
        pegs += on_face
    hollow = None
    if choices.hollow and segments:
        hollow = floored(
            hollow_within(segments, choices.wall_mm, solid=solid),
            pegs_by_face,
            solid=solid,
            wall_mm=choices.wall_mm,
        )
    bores = bores_of(bars) if bars else None
    parts = tuple(
        _part(f"{name}-{number:02d}", piece, pegs=pegs, hollow=hollow, bores=bores, choices=choices)
        for number, piece in enumerate(_ordered(pieces), start=1)
    )
    counts: dict[float, int] = {}
    for peg in pegs:
        counts[peg.side_mm] = counts.get(peg.side_mm, 0) + 1
    return PrintSet(
        name=name,
        meaning=meaning,
        volume_mm3=float(solid.volume()),
        places_mm=places,
        parts=parts,
        pegs=dict(sorted(counts.items())),
        glued=sum(not on_face for _, on_face in pegs_by_face),
        least_wall_mm=None if hollow is None else least_wall_mm(solid, hollow),
    )


def _ordered(pieces: Sequence[Piece]) -> list[Piece]:
    """Order pieces from the ground up, then from the tail forwards, then from the right."""

    def key(piece: Piece) -> tuple[float, ...]:
        box = np.asarray(piece.solid.bounding_box(), dtype=np.float64)
        low = np.where(np.isfinite(piece.low_mm), piece.low_mm, -1e9)
        return (float(low[2]), float(low[0]), float(low[1]), *box[[2, 0, 1]])

    return sorted(pieces, key=key)


def _part(
    name: str,
    piece: Piece,
    *,
    pegs: Sequence[Peg],
    hollow: "Manifold | None",
    bores: "Manifold | None",
    choices: PrintChoices,
) -> PrintPart:
    bounds = np.asarray(piece.solid.bounding_box(), dtype=np.float64)
    solid = piece.solid if hollow is None else piece.solid - hollow
    near = [peg for peg in pegs if takes_peg(piece, peg)]
    cut = with_sockets(solid, near)
    bored = None if bores is None else bored_through(cut, bores)
    cut = cut if bored is None else bored
    turn, words = _lying(piece, bounds, choices.bed)
    mesh = mesh_of(cut)
    laid = mesh.vertices_mm @ turn.T
    low, high = laid.min(axis=0), laid.max(axis=0)
    laid = laid - [(low[0] + high[0]) / 2, (low[1] + high[1]) / 2, low[2]]
    volume = float(piece.solid.volume())
    return PrintPart(
        name=name,
        mesh=Mesh(vertices_mm=laid, faces=mesh.faces),
        centre_mm=mesh_measures(mesh_of(piece.solid)).centre_mm,
        size_mm=high - low,
        volume_mm3=volume,
        sockets=tuple(sorted(peg.side_mm for peg in near)),
        face_down=words,
        mass_g=_mass_g(cut, volume, choices),
        bored=bored is not None,
    )


def _mass_g(cut: "Manifold", volume_mm3: float, choices: PrintChoices) -> float:
    """Return a print's mass: its walls, and its inside by the infill; hollow, its own volume."""
    if choices.hollow:
        return float(cut.volume()) * 1e-3 * FILAMENT_G_CM3
    walls = min(float(cut.surface_area()) * choices.wall_mm, volume_mm3)
    inside = (volume_mm3 - walls) * choices.infill_percent / 100
    return (walls + inside) * 1e-3 * FILAMENT_G_CM3


# Which direction of the figure faces the bed, by axis and sign.
_FACING: Final = {
    (0, -1): "tail end down",
    (0, 1): "front end down",
    (1, -1): "right side down",
    (1, 1): "left side down",
    (2, -1): "as it stands",
    (2, 1): "upside down",
}


def _lying(piece: Piece, bounds: Draws, bed: Bed) -> tuple[Draws, str]:
    """Turn a piece so that its largest cut face that the bed allows lies down.

    The other piece of a joint then lies on the same face: both are flat and true.
    """
    size = bounds[3:] - bounds[:3]
    cuts = [
        (size[(axis + 1) % 3] * size[(axis + 2) % 3], axis, sign)
        for axis in range(3)
        for sign, edge in ((-1, piece.low_mm[axis]), (1, piece.high_mm[axis]))
        if np.isfinite(edge) and abs(edge - bounds[axis + (3 if sign > 0 else 0)]) < 1e-3
    ]
    # Then as it stands, then in any other way that fits: the cell it was cut in always does.
    ways = [(axis, sign) for _, axis, sign in sorted(cuts, reverse=True)]
    ways += [(2, -1), (0, -1), (1, -1)]
    room = bed.usable
    for axis, sign in ways:
        first, second = size[(axis + 1) % 3], size[(axis + 2) % 3]
        if size[axis] > room[2] + 1e-6:
            continue
        for turned in (False, True):
            wide, deep = (second, first) if turned else (first, second)
            if wide <= room[0] + 1e-6 and deep <= room[1] + 1e-6:
                return _turn(axis, sign, turned=turned), _FACING[axis, sign]
    return np.eye(3), _FACING[2, -1]


def _turn(axis: int, sign: int, *, turned: bool) -> Draws:
    """Return a rotation that brings a direction of the figure to point downwards."""
    down = np.zeros(3)
    down[axis] = sign
    right = np.zeros(3)
    right[(axis + 2) % 3 if turned else (axis + 1) % 3] = 1.0
    up = -down
    return np.stack((right, np.cross(up, right), up))
