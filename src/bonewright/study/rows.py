"""Turn checked cells into the frozen rows of a study.

The cells have passed the check, so what a schema requires is there; a row that still
lacks it is a fault of the program, and :class:`_Row` says so.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import Literal

from bonewright.findings import RowRef
from bonewright.study.check import Examined
from bonewright.study.model import (
    Account,
    BodyReading,
    Claim,
    DateSpan,
    Decision,
    Measurement,
    MountMeasurement,
    Picture,
    PictureMark,
    Relative,
    RelativeMeasurement,
    Section,
    Source,
    Specimen,
    Study,
)
from bonewright.study.outlines import Rings
from bonewright.study.settings import Settings
from bonewright.study.table_cells import TableCells
from bonewright.study.testimony_rules import CLAIM_MEASURES
from bonewright.study.units import factor_to_inside

__all__ = ["study_from"]

_MM_PER_M = 1000.0


class _Row:
    """One row of checked cells."""

    def __init__(self, cells: TableCells, index: int) -> None:
        self._cells = cells
        self.index = index
        self.ref = RowRef(
            table=cells.table.name, row=cells.raw.row_numbers[index], row_id=cells.key(index)
        )

    def _missing(self, column: str) -> ValueError:
        return ValueError(f"{self.ref.words()} passed the check without {column}")

    def text(self, column: str) -> str:
        value = self._cells.text(column, self.index)
        if value is None:
            raise self._missing(column)
        return value

    def optional_text(self, column: str) -> str | None:
        return self._cells.text(column, self.index)

    def number(self, column: str) -> float:
        value = self._cells.number(column, self.index)
        if value is None:
            raise self._missing(column)
        return value

    def optional_number(self, column: str) -> float | None:
        return self._cells.number(column, self.index)

    def count(self, column: str) -> int | None:
        value = self._cells.columns[column][self.index]
        return value if isinstance(value, int) else None

    def date(self, column: str) -> DateSpan:
        value = self._cells.columns[column][self.index]
        if not isinstance(value, DateSpan):
            raise self._missing(column)
        return value

    def factor(self, unit_column: str) -> float:
        value = self._cells.factors[unit_column][self.index]
        if value is None:
            raise self._missing(unit_column)
        return value


def _rows(cells: TableCells) -> Iterator[_Row]:
    return (_Row(cells, index) for index in range(len(cells)))


def study_from(examined: Examined, settings: Settings, folder: Path) -> Study:
    """Build the study from tables in which no problem was found."""
    tables = examined.tables
    decisions = tuple(_decision(row) for row in _rows(tables["decisions"]))
    return Study(
        folder=folder,
        settings=settings,
        sources=tuple(_source(row) for row in _rows(tables["sources"])),
        specimens=tuple(_specimen(row) for row in _rows(tables["specimens"])),
        measurements=tuple(_measurement(row) for row in _rows(tables["measurements"])),
        relatives=tuple(_relative(row) for row in _rows(tables["relatives"])),
        relative_measurements=tuple(
            _relative_measurement(row) for row in _rows(tables["relative_measurements"])
        ),
        sections=tuple(
            _section(row, examined.outlines.get(row.index)) for row in _rows(tables["sections"])
        ),
        bodies=tuple(_body(row) for row in _rows(tables["bodies"])),
        pictures=tuple(_picture(row) for row in _rows(tables["pictures"])),
        picture_marks=tuple(_picture_mark(row) for row in _rows(tables["picture_marks"])),
        accounts=tuple(_account(row) for row in _rows(tables["accounts"])),
        claims=tuple(_claim(row) for row in _rows(tables["claims"])),
        mount_measurements=tuple(_mount(row) for row in _rows(tables["mount_measurements"])),
        decisions=decisions,
        tree_tips=examined.tree_tips,
        kept=_decided(decisions, "keep"),
        set_aside=_decided(decisions, "set aside"),
    )


def _decided(
    decisions: tuple[Decision, ...], which: Literal["keep", "set aside"]
) -> frozenset[tuple[str, str]]:
    return frozenset((d.table, d.row_id) for d in decisions if d.decision == which)


def _source(row: _Row) -> Source:
    return Source(
        ref=row.ref,
        source_id=row.text("sourceID"),
        citation=row.text("bibliographicCitation"),
        kind=row.text("sourceKind"),
        reliability=row.optional_text("reliability"),
        reliability_reason=row.optional_text("reliabilityReason"),
    )


def _specimen(row: _Row) -> Specimen:
    return Specimen(
        ref=row.ref,
        specimen_id=row.text("materialEntityID"),
        institution_code=row.text("institutionCode"),
        catalog_number=row.text("catalogNumber"),
        individual_id=row.optional_text("organismID"),
        element=row.text("element"),
        side=row.text("side"),
        sex=row.optional_text("sex") or "unknown",
        life_stage=row.optional_text("lifeStage") or "unknown",
        preparation=row.text("preparations"),
        cast_of=row.optional_text("castOf"),
        preservation=row.text("preservation"),
        source_id=row.optional_text("sourceID"),
    )


def _measurement(row: _Row) -> Measurement:
    accuracy = row.optional_number("measurementAccuracy")
    return Measurement(
        ref=row.ref,
        measurement_id=row.text("measurementID"),
        specimen_id=row.text("materialEntityID"),
        code=row.text("measurementType"),
        value_mm=row.number("measurementValue"),
        accuracy_mm=None if accuracy is None else accuracy * row.factor("measurementUnit"),
        observer=row.optional_text("measurementDeterminedBy"),
        source_id=row.optional_text("sourceID"),
    )


def _relative(row: _Row) -> Relative:
    return Relative(
        ref=row.ref,
        species=row.text("scientificName"),
        family=row.optional_text("family"),
        locomotion=row.text("locomotion"),
        flight=row.text("flight"),
        body_mass_kg=row.number("bodyMass"),
        n_weighed=row.count("individualCount"),
        source_id=row.optional_text("sourceID"),
    )


def _relative_measurement(row: _Row) -> RelativeMeasurement:
    return RelativeMeasurement(
        ref=row.ref,
        species=row.text("scientificName"),
        element=row.text("element"),
        code=row.text("measurementType"),
        value_mm=row.number("measurementValue"),
        n_measured=row.count("individualCount"),
        source_id=row.optional_text("sourceID"),
    )


def _section(row: _Row, rings: Rings | None) -> Section:
    factor = row.factor("measurementUnit")
    outline = None
    if rings is not None:
        outline = tuple(tuple((x * factor, y * factor) for x, y in ring) for ring in rings)
    return Section(
        ref=row.ref,
        section_id=row.text("sectionID"),
        specimen_id=row.optional_text("materialEntityID"),
        species=row.optional_text("scientificName"),
        element=row.text("element"),
        position_fraction=row.number("position") / 100.0,
        bone_length_mm=row.number("boneLength"),
        outer_mediolateral_mm=row.optional_number("outerMediolateral"),
        outer_anteroposterior_mm=row.optional_number("outerAnteroposterior"),
        inner_mediolateral_mm=row.optional_number("innerMediolateral"),
        inner_anteroposterior_mm=row.optional_number("innerAnteroposterior"),
        outline_mm=outline,
        source_id=row.optional_text("sourceID"),
    )


def _body(row: _Row) -> BodyReading:
    return BodyReading(
        ref=row.ref,
        body_id=row.text("bodyID"),
        state=row.text("bodyState"),
        scale_denominator=row.number("scaleDenominator"),
        volume_m3=row.number("measurementValue"),
        armature_volume_m3=row.optional_number("armatureVolume") or 0.0,
        source_id=row.optional_text("sourceID"),
    )


def _picture(row: _Row) -> Picture:
    return Picture(
        ref=row.ref,
        picture_id=row.text("pictureID"),
        title=row.text("title"),
        date=row.date("eventDate"),
        drawn_from=row.text("drawnFrom"),
        copy_of=row.optional_text("copyOf"),
        creator=row.optional_text("creator"),
        reliability=row.optional_text("reliability"),
        source_id=row.optional_text("sourceID"),
    )


def _picture_mark(row: _Row) -> PictureMark:
    return PictureMark(
        ref=row.ref,
        picture_id=row.text("pictureID"),
        kind=row.text("measurementType"),
        score=row.number("measurementValue"),
        scorer=row.text("measurementDeterminedBy"),
    )


def _account(row: _Row) -> Account:
    return Account(
        ref=row.ref,
        account_id=row.text("accountID"),
        title=row.text("title"),
        date=row.date("eventDate"),
        standing=row.text("standing"),
        copy_of=row.optional_text("copyOf"),
        creator=row.optional_text("creator"),
        passage=row.optional_text("passage"),
        reliability=row.optional_text("reliability"),
        source_id=row.optional_text("sourceID"),
    )


def _claim(row: _Row) -> Claim:
    kind = row.text("claimType")
    measures = CLAIM_MEASURES.get(kind)
    value = None
    if measures is not None:
        factor = factor_to_inside(row.text("measurementUnit"), measures)
        if not isinstance(factor, float):
            raise ValueError(f"{row.ref.words()} passed the check without a sound unit")
        value = row.number("measurementValue") * factor
        if measures == "length":
            value /= _MM_PER_M
    return Claim(
        ref=row.ref,
        claim_id=row.text("claimID"),
        account_id=row.text("accountID"),
        kind=kind,
        value=value,
        statement=row.text("statement"),
    )


def _mount(row: _Row) -> MountMeasurement:
    return MountMeasurement(
        ref=row.ref,
        mount_id=row.text("mountID"),
        title=row.text("title"),
        element=row.text("element"),
        code=row.text("measurementType"),
        value_mm=row.number("measurementValue"),
        allowance_low_mm=row.number("allowanceLow"),
        allowance_high_mm=row.number("allowanceHigh"),
        source_id=row.optional_text("sourceID"),
    )


def _decision(row: _Row) -> Decision:
    decision: Literal["keep", "set aside"] = (
        "keep" if row.text("decision") == "keep" else "set aside"
    )
    return Decision(
        ref=row.ref,
        table=row.text("tableName"),
        row_id=row.text("rowID"),
        decision=decision,
        reason=row.text("reason"),
    )
