"""From a picture or a scan on disk to contours, with a sheet to look at before they are kept."""

import csv
import io
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from bonewright.errors import BonewrightError, StudyProblems
from bonewright.report.contour_sheet import Contour, contour_sheet
from bonewright.sections.lone_bone import bone_in_frame
from bonewright.sections.resliced import ScannedBone, section_scanned_bone
from bonewright.sections.threshold import ThresholdRule, background_is_bright, choose_threshold
from bonewright.sections.traced_picture import TracedPicture, trace_picture
from bonewright.study.raw import whole_file
from bonewright.study.section_images import read_grey
from bonewright.study.slice_stacks import SliceStack, open_stack

__all__ = [
    "PictureToTrace",
    "ScanToCut",
    "TraceChoices",
    "cut_scan",
    "traced",
]


# A second piece of bone as large as this share of the first is no splinter.
_SECOND_PIECE = 0.2
# Slices looked at for a frame or a second bone, and the share that must show it.
_SLICES_LOOKED_AT, _SHARE_THAT_SHOWS = 9, 0.5
# Bright pixels of an end slice below this share of the middle one's are noise, not bone.
_SPECKS = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceChoices:
    """How bone is told from background, and which way the bone's front points."""

    rule: ThresholdRule = "half-maximum"
    level: float | None = None
    dark_bone: bool = False
    anterior_deg: float = 90.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureToTrace:
    """A traced picture, the sheet that shows its contour, and what to look at besides."""

    traced: TracedPicture
    sheet_svg: str
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ScanToCut:
    """A scanned bone cut into sections, the sheet that shows some, and its curves as CSV."""

    bone: ScannedBone
    spacing_mm: tuple[float, float, float]
    sheet_svg: str
    curves_csv: str
    remarks: tuple[str, ...] = ()


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
    _refuse_unless_lone([grey], file, found.threshold.level)
    remarks = _marrow_words(found)
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
            *remarks,
            "Accept the contour only if it follows the bone all round.",
        ),
    )
    return PictureToTrace(traced=found, sheet_svg=sheet, remarks=remarks)


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
    n_slices = stack.shape[0]
    middle = np.linspace(0.25, 0.75, _SLICES_LOOKED_AT) * (n_slices - 1)
    looked_at = [stack.read(int(place), int(place) + 1)[0] for place in middle]
    _refuse_unless_lone(looked_at, file, threshold.level)
    bone = section_scanned_bone(
        stack,
        threshold,
        proximal_first=proximal_first,
        anterior_rad=float(np.deg2rad(choices.anterior_deg)),
    )
    remarks = _ends_words(stack, threshold.level)
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
            *remarks,
            "Accept the sections only if the contours follow the bone all round.",
        ),
        across=3,
    )
    return ScanToCut(
        bone=bone,
        spacing_mm=stack.spacing_mm,
        sheet_svg=sheet,
        curves_csv=_curves(bone),
        remarks=remarks,
    )


def _rim_is_bright(stack: SliceStack, level: float) -> bool:
    middle = stack.shape[0] // 2
    return background_is_bright(stack.read(middle, middle + 1)[0], level)


def _refuse_unless_lone(pictures: list[Any], file: str, level: float) -> None:
    """Refuse a bone cut off by the frame, and a second one beside it."""
    lying = [bone_in_frame(grey, level) for grey in pictures]
    if any(one.touches_frame for one in lying):
        found = "bone cut off by the edge of the picture"
        mend = "Give a picture with background all round the bone."
    elif np.mean([one.second_share >= _SECOND_PIECE for one in lying]) >= _SHARE_THAT_SHOWS:
        share = float(np.median([one.second_share for one in lying]))
        found = f"two pieces of bone, the second {100 * share:.0f} % as large as the first"
        mend = (
            "Cut the picture to one bone; if it is a bone cracked through, trace it by hand or try"
            " a lower threshold."
        )
    else:
        return
    raise StudyProblems((whole_file(file, found=found, expected="one bone, whole", mend=mend),))


def _marrow_words(found: TracedPicture) -> tuple[str, ...]:
    if len(found.rings_mm) > 1:
        return ()
    return (
        "No marrow space is closed off. If the bone is hollow, its wall is open somewhere: a crack,"
        " or a threshold too high.",
    )


def _ends_words(stack: SliceStack, level: float) -> tuple[str, ...]:
    """Say whether the bone goes on beyond the first or the last slice."""
    last = stack.shape[0] - 1
    bright = [int((stack.read(place, place + 1) >= level).sum()) for place in (0, last // 2, last)]
    ends = [
        name
        for name, count in (("first", bright[0]), ("last", bright[2]))
        if count > _SPECKS * bright[1]
    ]
    if not ends:
        return ()
    return (
        f"Bone shows in the {' and the '.join(ends)} slice: it may go on beyond the stack. Length"
        " and positions are of the part scanned.",
    )


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
