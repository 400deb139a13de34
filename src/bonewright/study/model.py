"""A study as the steps see it: frozen rows, one unit a quantity.

Lengths are in mm, masses in kg, volumes in m3, dates in decimal years. Each row knows
where it stands (``ref``), so that a finding can name its rows. Optional cells are None.
"""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from bonewright.findings import RowRef
from bonewright.study.settings import Settings

__all__ = [
    "Account",
    "BodyReading",
    "Claim",
    "DateSpan",
    "Decision",
    "Measurement",
    "MountMeasurement",
    "Picture",
    "PictureMark",
    "Relative",
    "RelativeMeasurement",
    "Section",
    "Source",
    "Specimen",
    "Study",
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


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureMark:
    """A row of picture_marks.csv."""

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """A row of claims.csv. ``value`` is in kg for weight, m for height, else None."""

    ref: RowRef
    claim_id: str
    account_id: str
    kind: str
    value: float | None
    statement: str


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
class Study:
    """A checked study. Built by :func:`bonewright.study.load.load_study` only."""

    folder: Path
    settings: Settings
    sources: tuple[Source, ...] = ()
    specimens: tuple[Specimen, ...] = ()
    measurements: tuple[Measurement, ...] = ()
    relatives: tuple[Relative, ...] = ()
    relative_measurements: tuple[RelativeMeasurement, ...] = ()
    sections: tuple[Section, ...] = ()
    bodies: tuple[BodyReading, ...] = ()
    pictures: tuple[Picture, ...] = ()
    picture_marks: tuple[PictureMark, ...] = ()
    accounts: tuple[Account, ...] = ()
    claims: tuple[Claim, ...] = ()
    mount_measurements: tuple[MountMeasurement, ...] = ()
    decisions: tuple[Decision, ...] = ()
    tree_tips: tuple[str, ...] | None = None
    kept: frozenset[tuple[str, str]] = field(default=frozenset())
    """(table, row id) of rows the person decided to keep though doubtful."""
    set_aside: frozenset[tuple[str, str]] = field(default=frozenset())
    """(table, row id) of rows the person set aside, with a printed reason."""
