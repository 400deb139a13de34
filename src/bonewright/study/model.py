"""A study as the steps see it: frozen rows, one unit a quantity.

Lengths are in mm, masses in kg, volumes in m3, dates in decimal years. Each row knows
where it stands (``ref``), so that a finding can name its rows. Optional cells are None.
"""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from bonewright.findings import RowRef
from bonewright.study.flat_tree import FlatTree
from bonewright.study.settings import Settings
from bonewright.study.workshop_rows import (
    BuildLimit,
    BuildMaterial,
    FeatherTract,
    ModelMeasurement,
    StockItem,
)

__all__ = [
    "Account",
    "BodyHoop",
    "BodyReading",
    "BodyScan",
    "BodySegment",
    "Claim",
    "DateSpan",
    "Decision",
    "Hypothesis",
    "Landmark",
    "LineDecision",
    "LostPart",
    "MassEquation",
    "Measurement",
    "MountMeasurement",
    "OldUnit",
    "OwnCode",
    "Picture",
    "PictureMark",
    "Relative",
    "RelativeMeasurement",
    "Section",
    "Source",
    "Specimen",
    "StrengthIndicator",
    "Study",
    "Surface",
    "Tissue",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class DateSpan:
    """A date known to lie in ``[earliest, latest]``, in decimal years; ``text`` as written."""

    earliest: float
    latest: float
    text: str

    @property
    def middle(self) -> float:
        """Middle of the span, in decimal years."""
        return (self.earliest + self.latest) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A row of sources.csv."""

    ref: RowRef
    source_id: str
    citation: str
    kind: str
    reliability: str | None
    reliability_reason: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Specimen:
    """A row of specimens.csv."""

    ref: RowRef
    specimen_id: str
    institution_code: str
    catalog_number: str
    individual_id: str | None
    element: str
    side: str
    sex: str
    life_stage: str
    preparation: str
    cast_of: str | None
    preservation: str
    source_id: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Measurement:
    """A row of measurements.csv."""

    ref: RowRef
    measurement_id: str
    specimen_id: str
    code: str
    value_mm: float
    accuracy_mm: float | None
    observer: str | None
    source_id: str | None
    instrument: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnCode:
    """A row of codes.csv; ``element`` is None where the code is taken on any bone."""

    ref: RowRef
    code: str
    element: str | None
    meaning: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Relative:
    """A row of relatives.csv."""

    ref: RowRef
    species: str
    family: str | None
    locomotion: str
    flight: str
    body_mass_kg: float
    n_weighed: int | None
    source_id: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RelativeMeasurement:
    """A row of relative_measurements.csv."""

    ref: RowRef
    species: str
    element: str
    code: str
    value_mm: float
    n_measured: int | None
    source_id: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A row of sections.csv, with either four diameters or an outline.

    ``hole_offset_mm`` is where the middle of the marrow space lies from the middle of the
    bone (lateral, anterior), known where walls were measured. ``axis_offset_mm`` is the bow
    of the shaft at the section.

    ``outline_mm`` holds rings of shape ``(n_points, 2)`` as tuples (x mediolateral, y
    anteroposterior): the outer ring first, then holes.
    """

    ref: RowRef
    section_id: str
    specimen_id: str | None
    species: str | None
    element: str
    position_fraction: float
    bone_length_mm: float
    outer_mediolateral_mm: float | None
    outer_anteroposterior_mm: float | None
    inner_mediolateral_mm: float | None
    inner_anteroposterior_mm: float | None
    outline_mm: tuple[tuple[tuple[float, float], ...], ...] | None
    source_id: str | None
    hole_offset_mm: tuple[float, float] | None = None
    accuracy_mm: float | None = None
    axis_offset_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BodyReading:
    """A row of bodies.csv."""

    ref: RowRef
    body_id: str
    state: str
    scale_denominator: float
    volume_m3: float
    armature_volume_m3: float
    source_id: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BodySegment:
    """A row of body_segments.csv, or a segment of the plan that comes with the program.

    Angles in rad: ``angle`` turns the segment from its parent's axis, dorsally where
    positive; ``splay`` turns it outwards first. ``attach_*`` are fractions of the parent's
    length. ``ref`` is None for a segment of the plan that comes with the program.
    """

    ref: RowRef | None
    segment: str
    parent: str | None
    sides: str
    element: str
    code: str
    length_ratio: float
    attach_along: float
    attach_up: float
    attach_out: float
    angle_rad: float
    angle_low_rad: float
    angle_high_rad: float
    splay_rad: float
    bend_rad: float
    balance: float
    on_ground: bool
    bone_percent: float
    air_percent: float
    fat_share: float
    plumage_percent: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BodyHoop:
    """A row of body_hoops.csv, or a hoop of the plan that comes with the program.

    Ratios are of the bone's measurement, or of the segment's own length where ``element``
    is None; ``tissue_mm`` is added to each of the three.
    """

    ref: RowRef | None
    segment: str
    station: float
    element: str | None
    code: str | None
    half_width_ratio: float
    dorsal_ratio: float
    ventral_ratio: float
    tissue_mm: float
    dorsal_exponent: float
    ventral_exponent: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Tissue:
    """A row of tissues.csv: the density of one tissue, with the ends of its range."""

    ref: RowRef | None
    tissue: str
    density_kg_m3: float
    low_kg_m3: float
    high_kg_m3: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LostPart:
    """A row of lost_parts.csv: a part of one living relative over one of its bones.

    ``element`` is None where the ratio is of body mass (kg over kg).
    """

    ref: RowRef
    part: str
    species: str
    element: str | None
    code: str | None
    ratio: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surface:
    """A surface as its file holds it: ``vertices`` (n, 3) and triangles ``faces`` (m, 3)."""

    vertices: NDArray[np.float64]
    faces: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class BodyScan:
    """A row of body_scans.csv, with the surface its file holds.

    ``to_life_size_mm`` brings the surface's lengths to mm at life size. ``checked_mm`` is
    the length on the scan, at life size, that answers to the bone measurement named.
    """

    ref: RowRef
    scan_id: str
    kind: str
    body_id: str
    state: str
    element: str
    code: str
    checked_mm: float
    to_life_size_mm: float
    surface: Surface


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A row of pictures.csv."""

    ref: RowRef
    picture_id: str
    title: str
    date: DateSpan
    drawn_from: str
    copy_of: str | None
    creator: str | None
    reliability: str | None
    source_id: str | None
    locality: str | None = None
    license: str | None = None
    reliability_reason: str | None = None
    shows_mount: bool = False
    scale_mm: float | None = None
    file: str | None = None
    """Name below files/, with what the file is when upright: None where there is no file."""
    checksum: str | None = None
    width_px: int | None = None
    height_px: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Landmark:
    """A row of landmarks.csv: a point in px of the upright picture, y downwards.

    ``order`` counts along the outline and is None for a named point.
    """

    ref: RowRef
    picture_id: str
    name: str
    order: int | None
    x_px: float
    y_px: float
    observer: str
    marking_round: int
    checksum: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureMark:
    """A row of picture_marks.csv: ``kind`` is fatness, posture or plumage."""

    ref: RowRef
    picture_id: str
    kind: str
    score: float
    scorer: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """A row of accounts.csv."""

    ref: RowRef
    account_id: str
    title: str
    date: DateSpan
    standing: str
    copy_of: str | None
    creator: str | None
    passage: str | None
    reliability: str | None
    source_id: str | None
    locality: str | None = None
    reliability_reason: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """A row of claims.csv. ``value`` is in kg for weight, m for height or length, else None.

    ``low`` and ``high`` bound it (95 %) where it was converted from the old unit ``unit``,
    a row of the units table.
    """

    ref: RowRef
    claim_id: str
    account_id: str
    kind: str
    value: float | None
    statement: str
    low: float | None = None
    high: float | None = None
    unit: str | None = None
    unit_ref: RowRef | None = None
    location: str | None = None
    distance: str | None = None
    likelihood_ratio: float | None = None
    likelihood_ratio_for: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MassEquation:
    """A published equation: ln(mass/kg) = intercept_ln + slope ln(factor x measurement/mm).

    ``ref`` is its row in equations.csv, None for one that comes with the program, whose
    ``source`` is then a key of the literature and ``status`` says how far it was checked.
    ``standard_error_ln`` is the scatter of animals about the line; it, ``n`` and the range of
    the measurement are None where not known. ``printed`` is the equation in its own terms.
    """

    ref: RowRef | None
    equation_id: str
    animals: str
    element: str
    code: str
    slope: float
    intercept_ln: float
    factor: float
    standard_error_ln: float | None
    n: int | None
    range_low_mm: float | None
    range_high_mm: float | None
    source: str | None
    status: str
    printed: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OldUnit:
    """A row of units.csv: what one of it was, in kg or mm, with a 95 % range."""

    ref: RowRef
    name: str
    value: float
    low: float
    high: float
    source_id: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MountMeasurement:
    """A row of mount_measurements.csv."""

    ref: RowRef
    mount_id: str
    title: str
    element: str
    code: str
    value_mm: float
    allowance_low_mm: float
    allowance_high_mm: float
    source_id: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """A row of decisions.csv."""

    ref: RowRef
    table: str
    row_id: str
    decision: Literal["keep", "set aside"]
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StrengthIndicator:
    """A row of strength_indicators.csv: a published indicator, GPa^-1, of a living animal."""

    ref: RowRef
    animal: str
    element: str
    indicator_per_gpa: float
    locomotion: str
    source_id: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Hypothesis:
    """A row of hypotheses.csv: a state of fatness in either season; ``prior`` from 0 to 1."""

    ref: RowRef
    hypothesis_id: str
    title: str
    lean_season: str
    fat_season: str
    prior: float | None
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LineDecision:
    """A row of line_decisions.csv: a line of evidence pooled or set aside, and why."""

    ref: RowRef
    line_key: str
    decision: Literal["pool", "set aside"]
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Study:
    """A checked study. Built by :func:`bonewright.study.load.load_study` only."""

    folder: Path
    settings: Settings
    sources: tuple[Source, ...] = ()
    specimens: tuple[Specimen, ...] = ()
    measurements: tuple[Measurement, ...] = ()
    codes: tuple[OwnCode, ...] = ()
    relatives: tuple[Relative, ...] = ()
    relative_measurements: tuple[RelativeMeasurement, ...] = ()
    equations: tuple[MassEquation, ...] = ()
    """Those of the study's own table; more come with the program."""
    sections: tuple[Section, ...] = ()
    bodies: tuple[BodyReading, ...] = ()
    body_segments: tuple[BodySegment, ...] = ()
    body_hoops: tuple[BodyHoop, ...] = ()
    tissues: tuple[Tissue, ...] = ()
    model_measurements: tuple[ModelMeasurement, ...] = ()
    stock: tuple[StockItem, ...] = ()
    build_materials: tuple[BuildMaterial, ...] = ()
    feather_tracts: tuple[FeatherTract, ...] = ()
    build_limits: tuple[BuildLimit, ...] = ()
    lost_parts: tuple[LostPart, ...] = ()
    body_scans: tuple[BodyScan, ...] = ()
    pictures: tuple[Picture, ...] = ()
    picture_marks: tuple[PictureMark, ...] = ()
    landmarks: tuple[Landmark, ...] = ()
    accounts: tuple[Account, ...] = ()
    claims: tuple[Claim, ...] = ()
    units: tuple[OldUnit, ...] = ()
    mount_measurements: tuple[MountMeasurement, ...] = ()
    strength_indicators: tuple[StrengthIndicator, ...] = ()
    hypotheses: tuple[Hypothesis, ...] = ()
    line_decisions: tuple[LineDecision, ...] = ()
    decisions: tuple[Decision, ...] = ()
    trees: tuple[FlatTree, ...] = ()
    """Trees of the relatives; a tip that is in their table bears its spelling."""
    kept: frozenset[tuple[str, str]] = field(default=frozenset())
    """(table, row id) of rows the person decided to keep though doubtful."""
    set_aside: frozenset[tuple[str, str]] = field(default=frozenset())
    """(table, row id) of rows the person set aside, with a printed reason."""

    @property
    def tree_tips(self) -> tuple[str, ...] | None:
        """Names at the tips of the first tree, None without a tree."""
        return self.trees[0].tip_names if self.trees else None
