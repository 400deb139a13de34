"""From a picture or a scan on disk to outlines in the study, with a sheet to look at first."""

import csv
import io
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from bonewright.errors import BonewrightError, StudyProblems
from bonewright.report.contour_sheet import Contour, contour_sheet
from bonewright.sections.resliced import ScannedBone, section_scanned_bone
from bonewright.sections.threshold import ThresholdRule, background_is_bright, choose_threshold
from bonewright.sections.traced_picture import TracedPicture, trace_picture
from bonewright.study.history import By, History
from bonewright.study.raw import RawTable, whole_file
from bonewright.study.read import read_tables
from bonewright.study.save import save_tables
from bonewright.study.section_images import outline_bytes, read_grey
from bonewright.study.slice_stacks import SliceStack, open_stack

__all__ = [
    "PictureToTrace",
    "ScanToCut",
    "TraceChoices",
    "accept_scan",
    "accept_trace",
    "cut_scan",
    "traced",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceChoices:
    """How bone is told from background, and which way the bone's front points."""

    rule: ThresholdRule = "half-maximum"
    level: float | None = None
    dark_bone: bool = False
    anterior_deg: float = 90.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureToTrace:
    """A traced picture and the sheet that shows its contour."""

    traced: TracedPicture
    sheet_svg: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ScanToCut:
    """A scanned bone cut into sections, the sheet that shows some, and its curves as CSV."""

    bone: ScannedBone
    spacing_mm: tuple[float, float, float]
    sheet_svg: str
    curves_csv: str


def traced(path: Path, file: str, *, pixel_mm: float, choices: TraceChoices) -> PictureToTrace:
    """Trace a picture of a section and show its contour.

    Raises
    ------
    StudyProblems
        If the file is no picture, or its background is brighter than the threshold.
    """
    if not 0 < pixel_mm < 10:
        raise BonewrightError(
            f"A pixel of {pixel_mm:g} mm cannot be.",
            remedy="Give the scale bar's length in mm and in pixels.",
        )
    grey = read_grey(path, file, dark_bone=choices.dark_bone)
    found = trace_picture(
        grey,
        pixel_mm=pixel_mm,
        rule=choices.rule,
        level=choices.level,
        anterior_rad=float(np.deg2rad(choices.anterior_deg)),
    )
    if background_is_bright(grey, found.threshold.level):
        raise _inverted(file, choices)
    low, high = found.modulus_range_mm3
    properties = found.properties
    sheet = contour_sheet(
        [Contour(title=file, grey=grey, pixel_mm=pixel_mm, rings_mm=found.rings_picture_mm)],
        words=(
            f"Threshold: {found.threshold.rule}, grey {found.threshold.level:.4g} (background"
            f" {found.threshold.background:.4g}, bone {found.threshold.bone:.4g}).",
            f"Area {properties.area_mm2:.4g} mm², inner over outer"
            f" {properties.inner_over_outer:.2f}, section modulus"
            f" {properties.section_modulus_mediolateral_mm3:.4g} mm³",
            f"({low:.4g} to {high:.4g} with the threshold a tenth of the contrast either way).",
            "Accept the contour only if it follows the bone all round.",
        ),
    )
    return PictureToTrace(traced=found, sheet_svg=sheet)


def accept_trace(folder: Path, name: str, found: TracedPicture, *, by: By = "command line") -> str:
    """Write a traced contour as an outline of the study; return its name for outlineFile."""
    file = f"outlines/{_plain(name)}.csv"
    if (folder / "files" / file).exists():
        raise BonewrightError(
            f"The study has an outline files/{file} already.", remedy="Choose another name."
        )
    History(folder).commit(
        {f"files/{file}": outline_bytes(found.rings_mm)},
        what=f"Kept the outline {file}",
        by=by,
        expected={f"files/{file}": None},
    )
    return file


def cut_scan(
    path: Path,
    file: str,
    *,
    pixel_mm: float | None,
    between_slices_mm: float | None,
    proximal_first: bool,
    choices: TraceChoices,
) -> ScanToCut:
    """Cut a stack of slices across its bone's axis at every percent of its length."""
    stack = open_stack(
        path,
        file,
        pixel_mm=pixel_mm,
        between_slices_mm=between_slices_mm,
        dark_bone=choices.dark_bone,
    )
    threshold = choose_threshold(stack.sample(), choices.rule, level=choices.level)
    if _rim_is_bright(stack, threshold.level):
        raise _inverted(file, choices)
    bone = section_scanned_bone(
        stack,
        threshold,
        proximal_first=proximal_first,
        anterior_rad=float(np.deg2rad(choices.anterior_deg)),
    )
    shown = [9, 29, 49, 69, 89]
    sheet = contour_sheet(
        [
            Contour(
                title=f"{bone.positions_percent[index]:.0f} % from the proximal end",
                grey=bone.images[index],
                pixel_mm=bone.pixel_mm,
                rings_mm=bone.outline(index),
            )
            for index in shown
        ],
        words=(
            f"Bone {bone.axis.length_mm:.2f} mm long along its axis,"
            f" {np.rad2deg(bone.axis.tilt_rad):.1f} degrees aslant in the stack. Threshold:"
            f" {threshold.rule}, grey {threshold.level:.4g}.",
            "Accept the sections only if the contours follow the bone all round.",
        ),
        across=3,
    )
    return ScanToCut(
        bone=bone, spacing_mm=stack.spacing_mm, sheet_svg=sheet, curves_csv=_curves(bone)
    )


def accept_scan(
    folder: Path,
    name: str,
    scan: ScanToCut,
    *,
    every_percent: int,
    owner: dict[str, str],
) -> int:
    """Write sections of a scan as outlines and add their rows to the table of sections.

    ``owner`` holds the cells that say whose bone it is: materialEntityID or
    scientificName, element, and sourceID if known. Returns the number of rows added.
    """
    bone = scan.bone
    middles = bone.properties.centroid_mm
    table = read_tables(folder)["sections"]
    rows = []
    outlines: dict[str, bytes] = {}
    for index in range(every_percent - 1, len(bone.positions_percent), every_percent):
        percent = bone.positions_percent[index]
        file = f"outlines/{_plain(name)}-{percent:02.0f}.csv"
        outlines[f"files/{file}"] = outline_bytes(bone.outline(index))
        doubt = float(
            bone.properties_low.area_mm2[index] - bone.properties_high.area_mm2[index]
        ) / (4 * float(bone.properties.mean_perimeter_mm[index]))
        cells = owner | {
            "sectionID": f"{_plain(name)}-{percent:02.0f}",
            "position": f"{percent:.0f}",
            "boneLength": f"{bone.axis.length_mm:.2f}",
            "outlineFile": file,
            "measurementAccuracy": f"{abs(doubt):.4f}",
            "axisOffset": f"{_bow_mm(middles, index):.2f}",
            "measurementUnit": "mm",
        }
        rows.append(tuple(cells.get(column, "") for column in table.header))
    _refuse_twice(table, rows)
    save_tables(
        folder,
        [table.with_rows((*table.rows, *rows))],
        what=f"Kept the sections of the scan {name}",
        by="command line",
        beside=outlines,
    )
    return len(rows)


def _bow_mm(middles: Any, index: int) -> float:
    """Return how far a section's middle lies off the line through those near the ends."""
    first, last = middles[2], middles[-3]
    share = (index - 2) / (len(middles) - 5)
    return float(np.hypot(*(middles[index] - (first + share * (last - first)))))


def _refuse_twice(table: RawTable, rows: list[tuple[str, ...]]) -> None:
    key = table.header.index("sectionID")
    names = {row[key] for row in table.rows}
    double = [row[key] for row in rows if row[key] in names]
    if double:
        raise BonewrightError(
            f"The table of sections has a row {double[0]} already.",
            remedy="Choose another name, or delete the earlier rows.",
        )


def _rim_is_bright(stack: SliceStack, level: float) -> bool:
    middle = stack.shape[0] // 2
    return background_is_bright(stack.read(middle, middle + 1)[0], level)


def _inverted(file: str, choices: TraceChoices) -> StudyProblems:
    return StudyProblems(
        (
            whole_file(
                file,
                found="a rim that counts as bone: grey is inverted, or the bone is cut off",
                expected="dark surroundings and bright bone"
                if not choices.dark_bone
                else "bright surroundings and dark bone",
                mend="Say that bone is dark (or no longer say so), or give a larger picture.",
            ),
        )
    )


def _plain(name: str) -> str:
    plain = "".join(sign if sign.isalnum() or sign in "-_" else "-" for sign in name.strip())
    if not plain.strip("-"):
        raise BonewrightError("The section has no name.", remedy="Give it one, such as sec-21.")
    return plain


def _curves(bone: ScannedBone) -> str:
    found = bone.properties
    columns = {
        "position_percent": bone.positions_percent,
        "area_mm2": found.area_mm2,
        "second_moment_mediolateral_mm4": found.second_moment_mediolateral_mm4,
        "second_moment_anteroposterior_mm4": found.second_moment_anteroposterior_mm4,
        "greatest_moment_mm4": found.greatest_moment_mm4,
        "least_moment_mm4": found.least_moment_mm4,
        "axis_of_greatest_deg": np.rad2deg(found.axis_of_greatest_rad),
        "polar_moment_mm4": found.polar_moment_mm4,
        "section_modulus_mediolateral_mm3": found.section_modulus_mediolateral_mm3,
        "section_modulus_lower_threshold_mm3": (
            bone.properties_low.section_modulus_mediolateral_mm3
        ),
        "section_modulus_higher_threshold_mm3": (
            bone.properties_high.section_modulus_mediolateral_mm3
        ),
        "section_modulus_anteroposterior_mm3": found.section_modulus_anteroposterior_mm3,
        "torsion_constant_thin_wall_mm4": found.torsion_constant_thin_wall_mm4,
        "inner_over_outer": found.inner_over_outer,
    }
    stream = io.StringIO()
    table = csv.writer(stream, lineterminator="\n")
    table.writerow(columns)
    for row in zip(*columns.values(), strict=True):
        table.writerow([f"{value:.6g}" if np.isfinite(value) else "" for value in row])
    return stream.getvalue()
