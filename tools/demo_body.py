"""The demo study's body: maquette, its scan, the team's plan of it, and parts of relatives."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from bonewright.body.loft_moments import loft_moments
from bonewright.body.overlap import placed_meshes
from bonewright.body.plan import body_plan, lofted_segments
from bonewright.body.posture import stand
from bonewright.body.scans import sound_surface
from bonewright.study.model import Surface
from bonewright.study.surface_files import STL_FACE
from demo_animal import TRUE_DENSITY_KG_PER_L, TRUE_MASS_KG

Row = dict[str, str]

SCALE: Final = 4
MODELLER_ERROR: Final = 1.04

# The team's own hoops for the trunk: station, half-width, above, below (over pelvis AA), shape
# above and below. They see it a little rounder behind the legs than the plan that comes with
# the program.
_TRUNK: Final = (
    (0, 0.0, 0.0, 0.0, 2.0, 2.0),
    (12, 0.60, 0.46, 0.60, 2.0, 2.0),
    (30, 1.05, 0.68, 1.18, 2.2, 2.0),
    (50, 1.24, 0.75, 1.55, 2.2, 2.1),
    (70, 1.28, 0.76, 1.70, 2.2, 2.0),
    (87, 1.00, 0.62, 1.28, 2.1, 1.9),
    (100, 0.0, 0.0, 0.0, 2.0, 2.0),
)
# Thighs and wings are one lump with the trunk in the clay.
_WITHIN_THE_CLAY: Final = ("thigh", "upper wing", "forearm", "hand", "hind toe")
# Parts of living relatives: true ratio, how far species differ (natural logarithm), the bone.
_PARTS: Final = (
    ("beak sheath length", 1.16, 0.05, "mandible", "GL"),
    ("beak sheath depth", 0.95, 0.07, "skull", "GH"),
    ("claw length", 0.17, 0.15, "tarsometatarsus", "GL"),
    ("eye diameter", 0.15, 0.08, "skull", "GL"),
    ("leg muscle mass", 0.21, 0.12, "", ""),
)


def body_rows(rng: np.random.Generator) -> list[Row]:
    """Return five readings of the maquette's displaced volume."""
    true_ml = TRUE_MASS_KG / TRUE_DENSITY_KG_PER_L * 1000 / SCALE**3 * MODELLER_ERROR
    return [
        {
            "measurementID": f"v-{number:02d}",
            "bodyID": "maquette-1",
            "bodyState": "mean",
            "scaleDenominator": str(SCALE),
            "measurementValue": f"{true_ml + 4 + float(rng.normal(0, 1.6)):.0f}",
            "measurementUnit": "mL",
            "armatureVolume": "4",
            "measurementDeterminedBy": f"observer {'AB'[number % 2]}",
            "sourceID": "src-14",
            "measurementRemarks": "clay sealed with lacquer; wire stand in the water",
        }
        for number in range(1, 6)
    ]


def weighing_rows() -> list[Row]:
    """Return one reading of the same maquette by weight in air and in water."""
    true_ml = TRUE_MASS_KG / TRUE_DENSITY_KG_PER_L * 1000 / SCALE**3 * MODELLER_ERROR
    dry_g = 1.74 * (true_ml + 4)
    wet_g = dry_g - 0.9982 * (true_ml + 4.6)
    return [
        {
            "measurementID": "v-06",
            "bodyID": "maquette-1",
            "bodyState": "mean",
            "scaleDenominator": str(SCALE),
            "measurementUnit": "mL",
            "armatureVolume": "4",
            "weightInAir": f"{dry_g:.0f}",
            "weightInWater": f"{wet_g:.0f}",
            "weightUnit": "g",
            "measurementDeterminedBy": "observer A",
            "sourceID": "src-14",
            "measurementRemarks": "hung in water from the balance",
        }
    ]


def segment_rows() -> list[Row]:
    """Return the team's own beak: longer than the plan's, as the sheath was."""
    return [
        {
            "segmentID": "beak",
            "parentSegment": "head",
            "sides": "midline",
            "element": "mandible",
            "measurementType": "GL",
            "lengthRatio": "0.66",
            "attachAlong": "96",
            "attachUp": "-3",
            "jointAngle": "-6",
            "jointLowest": "-15",
            "jointHighest": "15",
            "bend": "-18",
            "bonePercent": "45",
            "airPercent": "3",
            "sourceID": "src-15",
            "segmentRemarks": "longer than the plan's: the horny sheath reaches beyond the bone",
        }
    ]


def hoop_rows() -> list[Row]:
    """Return the team's own hoops of the trunk."""
    return [
        {
            "hoopID": f"h-{number:02d}",
            "segmentID": "trunk",
            "station": str(station),
            "element": "pelvis",
            "measurementType": "AA",
            "halfWidthRatio": f"{width:g}",
            "dorsalRatio": f"{dorsal:g}",
            "ventralRatio": f"{ventral:g}",
            "dorsalExponent": f"{shape_above:g}",
            "ventralExponent": f"{shape_below:g}",
            "sourceID": "src-15",
        }
        for number, (station, width, dorsal, ventral, shape_above, shape_below) in enumerate(
            _TRUNK, start=1
        )
    ]


def tissue_rows() -> list[Row]:
    """Return the one density for which the team has a source of its own."""
    return [
        {
            "tissue": "muscle",
            "density": "1.05",
            "densityLow": "1.04",
            "densityHigh": "1.06",
            "sourceID": "src-15",
            "tissueRemarks": "muscle and organs together",
        }
    ]


# A study model at 1:5, measured with a tape: one foot was made too long, the belly too full.
_MODEL = (
    ("left hip to left knee", 32.9),
    ("left knee to left ankle", 51.2),
    ("left ankle to left middle toe joint", 32.4),
    ("right ankle to right middle toe joint", 29.0),
    ("head joint to root of the beak", 15.3),
    ("height over all", 162.0),
    ("girth of the trunk at hoop 4", 186.0),
    ("girth of the head at hoop 2", 34.0),
)


def model_rows() -> list[Row]:
    """Return what was measured on a finished study model, two of its measures astray."""
    return [
        {
            "measurementID": f"mm-{number:02d}",
            "modelID": "study model",
            "modelMeasure": measure,
            "bodyState": "mean",
            "modelLayer": "naked",
            "scaleDenominator": "5",
            "measurementValue": f"{value:g}",
            "measurementUnit": "mm",
        }
        for number, (measure, value) in enumerate(_MODEL, start=1)
    ]


def part_rows(rng: np.random.Generator, species: Sequence[str]) -> list[Row]:
    """Return parts of living relatives over their bones."""
    rows: list[Row] = []
    for part, ratio, spread, element, code in _PARTS:
        for name in species:
            rows.append(
                {
                    "partID": f"p-{len(rows) + 1:02d}",
                    "part": part,
                    "scientificName": name,
                    "element": element,
                    "measurementType": code,
                    "ratio": f"{ratio * float(np.exp(rng.normal(0, spread))):.3f}",
                    "sourceID": "src-10",
                }
            )
    return rows


def maquette_scan(average_mm: dict[tuple[str, str], float]) -> tuple[list[Row], dict[str, bytes]]:
    """Scan the maquette: the row and its STL file, a surface of parts pushed into each other.

    The clay is made to hold the volume that the readings show.
    """
    bones = {key: np.array([value]) for key, value in average_mm.items()}
    plan = body_plan((), ())
    lofts = lofted_segments(plan, bones)
    target_mm3 = TRUE_MASS_KG / TRUE_DENSITY_KG_PER_L * 1e6 * MODELLER_ERROR
    for _ in range(6):
        moments = {name: loft_moments(loft) for name, loft in lofts.items()}
        swing = stand(
            plan,
            lofts,
            mass_kg={n: plan.segments[n].copies * m.volume_mm3 for n, m in moments.items()},
            centre_mm={name: m.centre_mm for name, m in moments.items()},
        ).swing_rad
        meshes = placed_meshes(plan, lofts, swing, around=10, places=2)
        vertices: list[NDArray[np.float64]] = []
        faces: list[NDArray[np.int64]] = []
        shown = [pair for name, pair in meshes.items() if name not in _WITHIN_THE_CLAY]
        for mesh in (mesh for pair in shown for mesh in pair):
            faces.append(mesh.faces.astype(np.int64) + sum(len(part) for part in vertices))
            vertices.append(np.round(mesh.vertices_mm / SCALE, 2))
        surface = Surface(vertices=np.concatenate(vertices), faces=np.concatenate(faces))
        across = float(np.sqrt(target_mm3 / sound_surface(surface).volume / SCALE**3))
        lofts = {
            name: replace(
                loft,
                half_width_mm=loft.half_width_mm * across,
                dorsal_mm=loft.dorsal_mm * across,
                ventral_mm=loft.ventral_mm * across,
            )
            for name, loft in lofts.items()
        }
    row = {
        "scanID": "scan-1",
        "scanFile": "scans/maquette-1.stl",
        "scanOf": "body",
        "bodyState": "mean",
        "bodyID": "maquette-1",
        "scaleDenominator": str(SCALE),
        "lengthUnit": "mm",
        "checkLength": f"{average_mm['tarsometatarsus', 'GL'] / SCALE:.1f}",
        "element": "tarsometatarsus",
        "measurementType": "GL",
        "sourceID": "src-14",
        "scanRemarks": "photographs from all sides; limbs scanned apart and set in place",
    }
    return [row], {"scans/maquette-1.stl": _stl(surface)}


def _stl(surface: Surface) -> bytes:
    """Write a surface as binary STL; its eighty bytes of header say that it is invented."""
    records = np.zeros(len(surface.faces), dtype=STL_FACE)
    records["corners"] = surface.vertices[surface.faces]
    header = b"invented: the clay maquette of the great rail of Merrowend, 1:4, mm".ljust(80)
    return header + len(records).to_bytes(4, "little") + records.tobytes()
