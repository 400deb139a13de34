"""Turn checked cells into the frozen rows of a study.

The rows of the body's tables are built in :mod:`bonewright.study.body_rows`.
"""

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Literal, TypeVar, cast

from bonewright.study.body_rows import (
    body_hoop,
    body_reading,
    body_scan,
    body_segment,
    lost_part,
    tissue,
)
from bonewright.study.check import Examined
from bonewright.study.equations import equation_of_row
from bonewright.study.model import (
    Account,
    Claim,
    Decision,
    Hypothesis,
    Landmark,
    LineDecision,
    Measurement,
    MountMeasurement,
    OldUnit,
    OwnCode,
    Picture,
    PictureMark,
    Relative,
    RelativeMeasurement,
    Section,
    Source,
    Specimen,
    StrengthIndicator,
    Study,
)
from bonewright.study.outlines import Rings
from bonewright.study.pictures import PictureFacts
from bonewright.study.recent import Recent
from bonewright.study.settings import Settings
from bonewright.study.table_cells import TableCells
from bonewright.study.table_rows import TableRow, rows_of
from bonewright.study.testimony_rules import CLAIM_MEASURES, UnitAmount, old_units
from bonewright.study.units import factor_to_inside
from bonewright.study.workshop_rows import (
    build_limit,
    build_material,
    feather_tract,
    model_measurement,
    stock_item,
)

__all__ = ["study_from"]

_MM_PER_M = 1000.0

_Row = TypeVar("_Row")
# A table that did not change is the very same object, and so are then its rows.
_BUILT: Recent[tuple[object, ...]] = Recent()


def study_from(examined: Examined, settings: Settings, folder: Path) -> Study:
    """Build the study from tables in which no problem was found."""
    tables = examined.tables
    decisions = _rows_as(_decision, tables["decisions"])
    return Study(
        folder=folder,
        settings=settings,
        sources=_rows_as(_source, tables["sources"]),
        specimens=_rows_as(_specimen, tables["specimens"]),
        measurements=_rows_as(_measurement, tables["measurements"]),
        codes=_rows_as(_own_code, tables["codes"]),
        relatives=_rows_as(_relative, tables["relatives"]),
        relative_measurements=_rows_as(_relative_measurement, tables["relative_measurements"]),
        equations=_rows_as(equation_of_row, tables["equations"]),
        sections=tuple(
            _section(row, examined.outlines.get(row.index)) for row in rows_of(tables["sections"])
        ),
        bodies=_rows_as(body_reading, tables["bodies"]),
        body_segments=_rows_as(body_segment, tables["body_segments"]),
        body_hoops=_rows_as(body_hoop, tables["body_hoops"]),
        tissues=_rows_as(tissue, tables["tissues"]),
        model_measurements=_rows_as(model_measurement, tables["model_measurements"]),
        stock=_rows_as(stock_item, tables["stock"]),
        build_materials=_rows_as(build_material, tables["build_materials"]),
        feather_tracts=_rows_as(feather_tract, tables["feather_tracts"]),
        build_limits=_rows_as(build_limit, tables["build_limits"]),
        lost_parts=_rows_as(lost_part, tables["lost_parts"]),
        body_scans=tuple(
            body_scan(row, examined.surfaces[row.index]) for row in rows_of(tables["body_scans"])
        ),
        pictures=tuple(
            _picture(row, examined.pictures.get(row.index)) for row in rows_of(tables["pictures"])
        ),
        picture_marks=_rows_as(_picture_mark, tables["picture_marks"]),
        landmarks=_rows_as(_landmark, tables["landmarks"]),
        accounts=_rows_as(_account, tables["accounts"]),
        claims=tuple(
            _claim(row, units, tables["units"])
            for units in (old_units(tables["units"]),)
            for row in rows_of(tables["claims"])
        ),
        units=tuple(
            _unit(TableRow(tables["units"], amount.row), amount)
            for amount in old_units(tables["units"]).values()
        ),
        mount_measurements=_rows_as(_mount, tables["mount_measurements"]),
        strength_indicators=_rows_as(_strength_indicator, tables["strength_indicators"]),
        hypotheses=_rows_as(_hypothesis, tables["hypotheses"]),
        line_decisions=_rows_as(_line_decision, tables["line_decisions"]),
        decisions=decisions,
        trees=() if examined.trees is None else examined.trees.trees,
        kept=_decided(decisions, "keep"),
        set_aside=_decided(decisions, "set aside"),
    )


def _rows_as(build: Callable[[TableRow], _Row], table: TableCells) -> tuple[_Row, ...]:
    """Build every row of a table, unless the same rows were just built."""
    built = _BUILT.recall(build.__name__, (table,), lambda: tuple(map(build, rows_of(table))))
    return cast("tuple[_Row, ...]", built)


def _decided(
    decisions: tuple[Decision, ...], which: Literal["keep", "set aside"]
) -> frozenset[tuple[str, str]]:
    return frozenset((d.table, d.row_id) for d in decisions if d.decision == which)


def _source(row: TableRow) -> Source:
    return Source(
        ref=row.ref,
        source_id=row.text("sourceID"),
        citation=row.text("bibliographicCitation"),
        kind=row.text("sourceKind"),
        reliability=row.optional_text("reliability"),
        reliability_reason=row.optional_text("reliabilityReason"),
    )


def _specimen(row: TableRow) -> Specimen:
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


def _measurement(row: TableRow) -> Measurement:
    accuracy = row.optional_number("measurementAccuracy")
    return Measurement(
        ref=row.ref,
        measurement_id=row.text("measurementID"),
        specimen_id=row.text("materialEntityID"),
        code=row.text("measurementType"),
        value_mm=row.number("measurementValue"),
        accuracy_mm=None if accuracy is None else accuracy * row.factor("measurementUnit"),
        observer=row.optional_text("measurementDeterminedBy"),
        instrument=row.optional_text("measurementMethod"),
        source_id=row.optional_text("sourceID"),
    )


def _own_code(row: TableRow) -> OwnCode:
    return OwnCode(
        ref=row.ref,
        code=row.text("measurementType"),
        element=row.optional_text("element"),
        meaning=row.text("measurementMeaning"),
    )


def _relative(row: TableRow) -> Relative:
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


def _relative_measurement(row: TableRow) -> RelativeMeasurement:
    return RelativeMeasurement(
        ref=row.ref,
        species=row.text("scientificName"),
        element=row.text("element"),
        code=row.text("measurementType"),
        value_mm=row.number("measurementValue"),
        n_measured=row.count("individualCount"),
        source_id=row.optional_text("sourceID"),
    )


def _section(row: TableRow, rings: Rings | None) -> Section:
    factor = row.factor("measurementUnit")
    outline = None
    if rings is not None:
        outline = tuple(tuple((x * factor, y * factor) for x, y in ring) for ring in rings)
    inner, offset = _marrow_space(row)
    accuracy = row.optional_number("measurementAccuracy")
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
        inner_mediolateral_mm=inner[0],
        inner_anteroposterior_mm=inner[1],
        outline_mm=outline,
        source_id=row.optional_text("sourceID"),
        hole_offset_mm=offset,
        accuracy_mm=None if accuracy is None else accuracy * factor,
        axis_offset_mm=row.optional_number("axisOffset"),
    )


def _marrow_space(
    row: TableRow,
) -> tuple[tuple[float | None, float | None], tuple[float, float] | None]:
    """Return the inner diameters, given or left by the walls, and the offset walls tell."""
    inner = (row.optional_number("innerMediolateral"), row.optional_number("innerAnteroposterior"))
    medial = row.optional_number("wallMedial")
    lateral = row.optional_number("wallLateral")
    front = row.optional_number("wallAnterior")
    back = row.optional_number("wallPosterior")
    if medial is None or lateral is None or front is None or back is None:
        return inner, None
    breadth, depth = row.number("outerMediolateral"), row.number("outerAnteroposterior")
    inner = (breadth - medial - lateral, depth - front - back)
    return inner, ((medial - lateral) / 2, (back - front) / 2)


def _picture(row: TableRow, facts: PictureFacts | None) -> Picture:
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
        locality=row.optional_text("locality"),
        license=row.optional_text("license"),
        reliability_reason=row.optional_text("reliabilityReason"),
        shows_mount=row.optional_text("shows") == "mount",
        scale_mm=row.optional_number("scaleLength"),
        file=row.optional_text("pictureFile"),
        checksum=None if facts is None else facts.checksum,
        width_px=None if facts is None else facts.width_px,
        height_px=None if facts is None else facts.height_px,
    )


def _landmark(row: TableRow) -> Landmark:
    return Landmark(
        ref=row.ref,
        picture_id=row.text("pictureID"),
        name=row.text("landmark"),
        order=row.count("pointOrder"),
        x_px=row.number("xPixel"),
        y_px=row.number("yPixel"),
        observer=row.text("measurementDeterminedBy"),
        marking_round=row.count("markingRound") or 1,
        checksum=row.optional_text("pictureChecksum"),
    )


def _picture_mark(row: TableRow) -> PictureMark:
    return PictureMark(
        ref=row.ref,
        picture_id=row.text("pictureID"),
        kind=row.text("measurementType"),
        score=row.number("measurementValue"),
        scorer=row.text("measurementDeterminedBy"),
    )


def _account(row: TableRow) -> Account:
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
        locality=row.optional_text("locality"),
        reliability_reason=row.optional_text("reliabilityReason"),
    )


def _claim(row: TableRow, units: Mapping[str, UnitAmount], unit_rows: TableCells) -> Claim:
    kind = row.text("claimType")
    measures = CLAIM_MEASURES.get(kind)
    value = low = high = unit_ref = None
    old = units.get(row.optional_text("measurementUnit") or "")
    if measures is not None:
        factor = old.value if old else factor_to_inside(row.text("measurementUnit"), measures)
        if not isinstance(factor, float):
            raise ValueError(f"{row.ref.words()} passed the check without a sound unit")
        number = row.number("measurementValue") / (_MM_PER_M if measures == "length" else 1.0)
        value = number * factor
        if old is not None:
            low, high = number * old.low, number * old.high
            unit_ref = TableRow(unit_rows, old.row).ref
    return Claim(
        ref=row.ref,
        claim_id=row.text("claimID"),
        account_id=row.text("accountID"),
        kind=kind,
        value=value,
        statement=row.text("statement"),
        low=low,
        high=high,
        unit=row.optional_text("measurementUnit") if unit_ref else None,
        unit_ref=unit_ref,
        location=row.optional_text("passageLocation"),
        distance=row.optional_text("observerDistance"),
        likelihood_ratio=row.optional_number("likelihoodRatio"),
        likelihood_ratio_for=row.optional_text("likelihoodRatioFor"),
    )


def _unit(row: TableRow, amount: UnitAmount) -> OldUnit:
    return OldUnit(
        ref=row.ref,
        name=row.text("unitID"),
        value=amount.value,
        low=amount.low,
        high=amount.high,
        source_id=row.optional_text("sourceID"),
    )


def _mount(row: TableRow) -> MountMeasurement:
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


def _strength_indicator(row: TableRow) -> StrengthIndicator:
    return StrengthIndicator(
        ref=row.ref,
        animal=row.text("animal"),
        element=row.text("element"),
        indicator_per_gpa=row.number("strengthIndicator"),
        locomotion=row.text("locomotion"),
        source_id=row.optional_text("sourceID"),
    )


def _hypothesis(row: TableRow) -> Hypothesis:
    prior = row.optional_number("priorPercent")
    return Hypothesis(
        ref=row.ref,
        hypothesis_id=row.text("hypothesisID"),
        title=row.text("hypothesisTitle"),
        lean_season=row.text("leanSeasonState"),
        fat_season=row.text("fatSeasonState"),
        prior=None if prior is None else prior / 100,
        reason=row.text("reason"),
    )


def _line_decision(row: TableRow) -> LineDecision:
    return LineDecision(
        ref=row.ref,
        line_key=row.text("lineID"),
        decision="pool" if row.text("decision") == "pool" else "set aside",
        reason=row.text("reason"),
    )


def _decision(row: TableRow) -> Decision:
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
