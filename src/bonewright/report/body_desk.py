"""The body's files: solids to look at, a plan to edit, hoops traced from pictures and scans."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from bonewright.body.bones_inside import bone_solids
from bonewright.body.grown import GrownBody
from bonewright.body.layers import STATES
from bonewright.body.silhouettes import state_mesh
from bonewright.body.solids import Mesh
from bonewright.body.tracing import TracedHoop, hoops_from_outlines, hoops_from_surface
from bonewright.errors import BonewrightError, NotEnoughEvidence, StudyProblems
from bonewright.study.atomic import write_atomically
from bonewright.study.drawings import read_drawing
from bonewright.study.ground_bird import GROUND_BIRD_HOOPS, GROUND_BIRD_SEGMENTS
from bonewright.study.model import BodyScan, Surface
from bonewright.study.raw import RawTable, empty_table
from bonewright.study.read import read_tables
from bonewright.study.save import save_tables
from bonewright.study.surface_files import read_surface
from bonewright.study.surface_writing import glb_of
from bonewright.study.within import results_place

if TYPE_CHECKING:
    from bonewright.pipeline import Run

__all__ = [
    "accept_hoops",
    "bones_glb",
    "glb",
    "hoops_of_drawings",
    "hoops_of_scan",
    "scan_glb",
    "write_plan",
    "write_solids",
]

_COLOURS = {
    "flesh": (205, 191, 167, 255),
    "plumage": (170, 158, 132, 255),
    "bone": (240, 234, 220, 255),
    "scan": (86, 142, 160, 255),
}


def glb(mesh: Mesh, *, colour: str = "flesh") -> bytes:
    """Return a solid as GLB, in metres with y up, as any viewer of the format expects."""
    surface = Surface(vertices=mesh.vertices_mm, faces=np.asarray(mesh.faces, dtype=np.int64))
    return glb_of({colour: (surface, _COLOURS[colour])})


def bones_glb(grown: GrownBody) -> bytes:
    """Return the measured bones where they stand in the average body, as GLB, each by name."""
    return glb_of(
        {
            f"{bone.element} {bone.side}": (
                Surface(
                    vertices=bone.mesh.vertices_mm, faces=np.asarray(bone.mesh.faces, np.int64)
                ),
                _COLOURS["bone"],
            )
            for bone in bone_solids(grown)
        }
    )


def scan_glb(scan: BodyScan) -> bytes:
    """Return a scan at life size as GLB, its lowest point on the ground and its middle above 0.

    The file's own z is taken for up, x for forward.
    """
    vertices = scan.surface.vertices * scan.to_life_size_mm
    low, high = vertices.min(axis=0), vertices.max(axis=0)
    middle = (low + high) / 2
    stood = Surface(vertices=vertices - [middle[0], middle[1], low[2]], faces=scan.surface.faces)
    return glb_of({"scan": (stood, _COLOURS["scan"])})


def write_solids(run: "Run", folder: Path) -> tuple[Path, ...]:
    """Write the grown body in its three states, and in its plumage, below results/.

    Raises
    ------
    NotEnoughEvidence
        If no body could be grown.
    """
    grown = None if run.body is None else run.body.grown
    if grown is None:
        gaps = run.unanswered.get("body", "") if run.body is None else " ".join(run.body.gaps)
        raise NotEnoughEvidence(
            "There is no grown body to write.",
            needed="the average of every bone measurement the body plan refers to",
            found=gaps or "none",
            would_help="see what the body step says is missing",
        )
    contents = {f"body-{state}.glb": glb(state_mesh(grown, state)) for state in STATES}
    contents["body-plumage.glb"] = glb(state_mesh(grown, "mean", plumage=True), colour="plumage")
    out = results_place(folder)
    paths = []
    for name, content in contents.items():
        write_atomically(out / name, content)
        paths.append(out / name)
    return tuple(paths)


def write_plan(folder: Path) -> tuple[Path, ...]:
    """Write the plan of a ground bird into the study's tables, to be edited there.

    Raises
    ------
    BonewrightError
        If the tables hold rows already.
    """
    tables = read_tables(folder)
    filled = [name for name in ("body_segments", "body_hoops") if _rows(tables.get(name))]
    if filled:
        raise BonewrightError(
            f"tables/{filled[0]}.csv has rows already.",
            remedy="Nothing is written over: empty the table first if you want the plan anew.",
        )
    segments = [
        {
            "segmentID": s.segment,
            "parentSegment": s.parent or "",
            "sides": s.sides,
            "element": s.element,
            "measurementType": s.code,
            "lengthRatio": f"{s.length_ratio:g}",
            "attachAlong": f"{100 * s.attach_along:g}",
            "attachUp": f"{100 * s.attach_up:g}",
            "attachOut": f"{100 * s.attach_out:g}",
            "jointAngle": f"{np.degrees(s.angle_rad):g}",
            "jointLowest": f"{np.degrees(s.angle_low_rad):g}",
            "jointHighest": f"{np.degrees(s.angle_high_rad):g}",
            "splay": f"{np.degrees(s.splay_rad):g}",
            "bend": f"{np.degrees(s.bend_rad):g}",
            "balance": f"{s.balance:g}",
            "onGround": "yes" if s.on_ground else "no",
            "bonePercent": f"{s.bone_percent:g}",
            "airPercent": f"{s.air_percent:g}",
            "fatShare": f"{s.fat_share:g}",
            "plumagePercent": f"{s.plumage_percent:g}",
            "segmentRemarks": "from the plan that comes with the program",
        }
        for s in GROUND_BIRD_SEGMENTS
    ]
    hoops = [
        {
            "hoopID": f"plan-{number:03d}",
            "segmentID": hoop.segment,
            "station": f"{100 * hoop.station:g}",
            "element": hoop.element or "",
            "measurementType": hoop.code or "",
            "halfWidthRatio": f"{hoop.half_width_ratio:g}",
            "dorsalRatio": f"{hoop.dorsal_ratio:g}",
            "ventralRatio": f"{hoop.ventral_ratio:g}",
            "dorsalExponent": f"{hoop.dorsal_exponent:g}",
            "ventralExponent": f"{hoop.ventral_exponent:g}",
            "hoopRemarks": "from the plan that comes with the program",
        }
        for number, hoop in enumerate(GROUND_BIRD_HOOPS, start=1)
    ]
    plan = {"body_segments": segments, "body_hoops": hoops}
    _append(folder, plan, what="Wrote the body plan of a ground bird")
    return tuple(folder / "tables" / f"{name}.csv" for name in plan)


def hoops_of_drawings(side: Path, top: Path) -> tuple[TracedHoop, ...]:
    """Trace hoops from two drawings (SVG or DXF), the largest closed line of each.

    Raises
    ------
    StudyProblems
        If a drawing cannot be read.
    """
    outlines = []
    for path in (side, top):
        lines, _, problems = read_drawing(path, path.name)
        if problems:
            raise StudyProblems(problems)
        outlines.append(np.asarray(lines[0], dtype=np.float64))
    return hoops_from_outlines(outlines[0], outlines[1])


def hoops_of_scan(scan: Path) -> tuple[TracedHoop, ...]:
    """Trace hoops from a scan of one segment lying along x.

    Raises
    ------
    StudyProblems
        If the scan cannot be read.
    """
    surface, problems = read_surface(scan, scan.name)
    if surface is None:
        raise StudyProblems(problems)
    return hoops_from_surface(surface.vertices, surface.faces)


def accept_hoops(
    folder: Path,
    segment: str,
    hoops: Sequence[TracedHoop],
    *,
    source: str,
    other_percent: float,
) -> None:
    """Append traced hoops to the study's table of hoops.

    Hoops of the table describe the body without fat and plumage; ``other_percent`` is the
    share of the traced volume that is fat or plumage, taken off evenly.

    Raises
    ------
    BonewrightError
        If the table has hoops of that segment already.
    """
    table = read_tables(folder).get("body_hoops")
    if table is not None and "segmentID" in table.header:
        place = table.header.index("segmentID")
        if any(len(row) > place and row[place].strip() == segment for row in table.rows):
            raise BonewrightError(
                f"tables/body_hoops.csv has hoops of the {segment} already.",
                remedy="Delete them first: hoops of two origins would be mixed.",
            )
    across = float(np.sqrt(1 - other_percent / 100))
    rows = [
        {
            "hoopID": f"{segment.replace(' ', '-')}-{number:02d}",
            "segmentID": segment,
            "station": f"{100 * hoop.station:g}",
            "halfWidthRatio": f"{hoop.half_width * across:.4g}",
            "dorsalRatio": f"{hoop.dorsal * across:.4g}",
            "ventralRatio": f"{hoop.ventral * across:.4g}",
            "dorsalExponent": f"{hoop.exponent:.3g}",
            "ventralExponent": f"{hoop.exponent:.3g}",
            "hoopRemarks": f"traced from {source}",
        }
        for number, hoop in enumerate(hoops, start=1)
    ]
    _append(folder, {"body_hoops": rows}, what=f"Kept the hoops of the {segment}")


def _rows(table: RawTable | None) -> int:
    return 0 if table is None else len(table.rows)


def _append(folder: Path, rows: Mapping[str, Sequence[dict[str, str]]], *, what: str) -> None:
    """Add rows to tables, as one step."""
    tables = read_tables(folder)
    longer = []
    for name, added in rows.items():
        table = tables.get(name) or empty_table(name)
        missing = [column for column in added[0] if column not in table.header]
        if missing:
            raise BonewrightError(
                f"tables/{name}.csv lacks the columns {', '.join(missing)}.",
                remedy="Add them to its first line; guide.html lists every column.",
            )
        new = tuple(tuple(row.get(column, "") for column in table.header) for row in added)
        longer.append(table.with_rows((*table.rows, *new)))
    save_tables(folder, longer, what=what, by="command line")
