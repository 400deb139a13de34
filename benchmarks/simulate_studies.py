"""Invented animals and their invented, incomplete, partly wrong bones, with the truth kept.

What is simulated is richer than the model that is tested: besides size, bones and
residuals there are limbs that vary as wholes (legs, wings, head and trunk), left and right
sides, two sexes as two sizes, and growth of some parts faster than others.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bonewright.findings import RowRef
from bonewright.skeleton.ln_matrix import Code, Entry, LnMatrix, ln_matrix
from bonewright.study.model import Measurement, RelativeMeasurement, Specimen

# Usual lengths of an invented large flightless bird, mm; each study varies them.
BONES_MM: dict[str, dict[str, float]] = {
    "skull": {"GL": 148.0, "CBL": 126.0, "GB": 52.0, "GH": 43.0, "SBO": 21.0},
    "mandible": {"GL": 121.0},
    "sternum": {"LM": 96.0, "dL": 80.0, "LC": 70.0, "SBF": 47.0},
    "coracoid": {"GL": 66.0, "Lm": 57.0, "Bb": 28.0, "BF": 22.0},
    "scapula": {"GL": 92.0, "Dic": 16.0},
    "humerus": {"GL": 98.0, "Bp": 23.0, "SC": 7.4, "Bd": 15.2},
    "radius": {"GL": 61.0, "SC": 3.6, "Bd": 6.3},
    "ulna": {"GL": 71.0, "Dip": 12.8, "Bp": 10.4, "SC": 6.1, "Did": 9.0},
    "carpometacarpus": {"GL": 39.0, "L": 34.0, "Bp": 10.1, "Did": 6.9},
    "pelvis": {"LV": 171.0, "AA": 92.0, "SB": 71.0, "DiA": 18.5},
    "femur": {
        "GL": 172.0,
        "Lm": 158.0,
        "Bp": 45.0,
        "Dp": 33.0,
        "SC": 17.9,
        "Bd": 39.0,
        "Dd": 29.0,
        "CD": 57.0,
    },
    "tibiotarsus": {
        "GL": 262.0,
        "La": 243.0,
        "Dip": 47.0,
        "SC": 15.4,
        "Bd": 31.0,
        "Dd": 27.0,
        "CD": 53.0,
    },
    "tarsometatarsus": {"GL": 158.0, "Bp": 33.0, "SC": 16.0, "Bd": 38.5, "CD": 51.0},
    "phalanx": {"GL": 44.0, "Bp": 17.0, "SC": 9.5, "Bd": 13.0},
}
LIMBS = (
    frozenset({"skull", "mandible"}),
    frozenset({"sternum", "coracoid", "scapula", "pelvis"}),
    frozenset({"humerus", "radius", "ulna", "carpometacarpus"}),
    frozenset({"femur", "tibiotarsus", "tarsometatarsus", "phalanx"}),
)
UNPAIRED = frozenset({"skull", "mandible", "sternum", "pelvis"})
CODES: tuple[Code, ...] = tuple((bone, code) for bone, of in BONES_MM.items() for code in of)
MEASURING_ERROR = 0.004
SIDE_SD = 0.005
LN_TEN = float(np.log(10))


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One measurement row: who, which side, which code, what was written, what is true."""

    individual: str
    side: str
    code: Code
    written_mm: float
    mistake: str | None
    close_columns: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SimulatedStudy:
    """A study with its truth: mean lengths (mm) of the kind, both sexes alike in number."""

    readings: tuple[Reading, ...]
    true_mean_mm: dict[Code, float]
    relatives: LnMatrix
    larger_sex: dict[str, bool]
    missing: float


def simulate_study(
    rng: np.random.Generator,
    *,
    missing: float,
    n_individuals: int,
    loose: float = 0.0,
    mistakes: float = 0.03,
    share_larger: float = 0.5,
    gap_ln: float | None = None,
) -> SimulatedStudy:
    """Invent an animal and dig up ``n_individuals`` of it.

    ``missing`` is the share of an individual's bones (by element) not found, ``loose`` the
    share of found bones that nobody knows to belong together, ``mistakes`` the share of
    rows with a mistake, ``share_larger`` the share of the larger sex among those found,
    ``gap_ln`` the size gap of the sexes (drawn from 0 to 12 % if None).
    """
    law = _law(rng)
    gap = float(rng.uniform(0.0, 0.12)) if gap_ln is None else gap_ln
    size_sd = float(rng.uniform(0.03, 0.05))
    spread = _Spread(rng)
    true_ln = law.mean_ln + law.slope * 0.1 + rng.normal(0, 0.12, len(CODES))
    larger = rng.random(n_individuals) < share_larger
    size = rng.normal(0, size_sd, n_individuals) + gap * (larger - 0.5)
    whole = spread.individuals(true_ln, size, rng)
    readings: list[Reading] = []
    sexes: dict[str, bool] = {}
    for number in range(n_individuals):
        # Some skeletons are nearly whole, others a bone or two.
        share = rng.beta(4 * missing, 4 * (1 - missing))
        for bone in BONES_MM:
            if rng.random() >= share:
                name = f"individual {number}"
                if rng.random() < loose:
                    name = f"loose {bone} {number}"
                sexes[name] = bool(larger[number])
                readings += _dig(name, bone, whole[number], rng)
    readings = _plant(readings, round(mistakes * len(readings)), rng)
    variance = spread.variance(size_sd, gap)
    return SimulatedStudy(
        readings=tuple(readings),
        true_mean_mm=dict(zip(CODES, np.exp(true_ln + variance / 2).tolist(), strict=True)),
        relatives=law.relatives,
        larger_sex=sexes,
        missing=missing,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyRows:
    """The rows of a study's tables that hold a simulated study; a reading a measurement."""

    specimens: tuple[Specimen, ...]
    measurements: tuple[Measurement, ...]
    relative_measurements: tuple[RelativeMeasurement, ...]


def study_rows(study: SimulatedStudy, *, sexes_known_of: Sequence[str] = ()) -> StudyRows:
    """Lay a simulated study out as tables; measurement ``m-i`` is reading i."""
    bones: dict[tuple[str, str, str], Specimen] = {}
    measurements = []
    for number, reading in enumerate(study.readings):
        element, code = reading.code
        key = (reading.individual, reading.side, element)
        if key not in bones:
            name = f"bone-{len(bones)}"
            loose = reading.individual.startswith("loose")
            sex = "female" if study.larger_sex[reading.individual] else "male"
            bones[key] = Specimen(
                ref=RowRef(table="specimens", row=len(bones) + 2, row_id=name),
                specimen_id=name,
                institution_code="INV",
                catalog_number=name,
                individual_id=None if loose else reading.individual,
                element=element,
                side="midline" if element in UNPAIRED else reading.side,
                sex=sex if reading.individual in sexes_known_of else "unknown",
                life_stage="adult",
                preparation="bone",
                cast_of=None,
                preservation="complete",
                source_id=None,
            )
        row_id = f"m-{number}"
        measurements.append(
            Measurement(
                ref=RowRef(table="measurements", row=number + 2, row_id=row_id),
                measurement_id=row_id,
                specimen_id=bones[key].specimen_id,
                code=code,
                value_mm=reading.written_mm,
                accuracy_mm=0.1,
                observer="A",
                source_id=None,
            )
        )
    return StudyRows(
        specimens=tuple(bones.values()),
        measurements=tuple(measurements),
        relative_measurements=tuple(_relative_rows(study.relatives)),
    )


def _relative_rows(relatives: LnMatrix) -> Iterator[RelativeMeasurement]:
    for row, column in zip(*np.nonzero(relatives.present), strict=True):
        species, (element, code) = relatives.rows[row], relatives.codes[column]
        yield RelativeMeasurement(
            ref=RowRef(table="relative_measurements", row=2, row_id=f"{species} {element} {code}"),
            species=species,
            element=element,
            code=code,
            value_mm=float(np.exp(relatives.values_ln[row, column])),
            n_measured=1,
            source_id=None,
        )


def without(study: SimulatedStudy, elements: frozenset[str]) -> SimulatedStudy:
    """Return the study as if nobody had found a bone of these elements."""
    left = tuple(reading for reading in study.readings if reading.code[0] not in elements)
    return replace(study, readings=left)


def by_individual(readings: tuple[Reading, ...]) -> LnMatrix:
    """Lay readings out with a row for each individual, its sides averaged."""
    return ln_matrix(_entry(r, r.individual) for r in readings)


def _entry(reading: Reading, row: str) -> Entry:
    return Entry(
        row=row,
        code=reading.code,
        value_mm=reading.written_mm,
        relative_error=MEASURING_ERROR,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Law:
    mean_ln: NDArray[np.float64]
    slope: NDArray[np.float64]
    relatives: LnMatrix


def _law(rng: np.random.Generator) -> _Law:
    """Invent 30 living relatives of half to a whole the lost animal's size."""
    usual = np.log([BONES_MM[bone][code] for bone, code in CODES])
    mean = usual + rng.normal(0, 0.06, len(CODES))
    slope = rng.normal(1, 0.1, len(CODES))
    size = rng.uniform(-0.8, 0.1, 30)
    bone_of = _numbers([bone for bone, _ in CODES])
    build = rng.normal(0, 0.06, (30, bone_of.max() + 1))[:, bone_of]
    values = mean + size[:, None] * slope + build + rng.normal(0, 0.05, (30, len(CODES)))
    relatives = LnMatrix(
        rows=tuple(f"species {number}" for number in range(30)),
        codes=CODES,
        values_ln=values,
        present=np.ones_like(values, dtype=np.bool_),
        error_sd_ln=np.zeros_like(values),
    )
    return _Law(mean_ln=mean, slope=slope, relatives=relatives)


class _Spread:
    """How individuals of one size differ."""

    def __init__(self, rng: np.random.Generator) -> None:
        p = len(CODES)
        self.loading = rng.normal(1, 0.1, p)
        self.bone_of = _numbers([bone for bone, _ in CODES])
        self.limb_of = np.array(
            [next(n for n, limb in enumerate(LIMBS) if bone in limb) for bone, _ in CODES]
        )
        self.limb_sd = 0.006
        self.bone_loading = rng.normal(0.008, 0.005, p)
        self.own_sd = rng.uniform(0.006, 0.014, p)

    def individuals(
        self, mean_ln: NDArray[np.float64], size: NDArray[np.float64], rng: np.random.Generator
    ) -> NDArray[np.float64]:
        n = len(size)
        bones = rng.standard_normal((n, self.bone_of.max() + 1))[:, self.bone_of]
        limbs = rng.normal(0, self.limb_sd, (n, len(LIMBS)))[:, self.limb_of]
        own = rng.normal(0, self.own_sd, (n, len(mean_ln)))
        shape = bones * self.bone_loading + limbs + own
        return np.asarray(mean_ln + size[:, None] * self.loading + shape)

    def variance(self, size_sd: float, gap: float) -> NDArray[np.float64]:
        size = self.loading**2 * (size_sd**2 + gap**2 / 4)
        return size + self.bone_loading**2 + self.limb_sd**2 + self.own_sd**2


def _numbers(names: list[str]) -> NDArray[np.intp]:
    order = {name: number for number, name in enumerate(dict.fromkeys(names))}
    return np.array([order[name] for name in names], dtype=np.intp)


def _dig(
    name: str, bone: str, whole: NDArray[np.float64], rng: np.random.Generator
) -> list[Reading]:
    """Measure a found bone, or its left and right, whole or broken."""
    if bone in UNPAIRED:
        sides = ["left"]
    else:
        sides = [["left"], ["right"], ["left", "right"]][rng.integers(3)]
    found = []
    for side in sides:
        broken = rng.random() < 0.3
        for column, code in enumerate(CODES):
            if code[0] == bone and not (broken and rng.random() < 0.5):
                off = 0.0 if bone in UNPAIRED else rng.normal(0, SIDE_SD)
                value = np.exp(whole[column] + off + rng.normal(0, MEASURING_ERROR))
                found.append(
                    Reading(
                        individual=name,
                        side=side,
                        code=code,
                        written_mm=float(np.round(value, 1 if value >= 20 else 2)),
                        mistake=None,
                        close_columns=False,
                    )
                )
    return found


def _plant(readings: list[Reading], n_wrong: int, rng: np.random.Generator) -> list[Reading]:
    """Spoil about ``n_wrong`` rows: half by a factor of ten, half in swapped columns."""
    spoiled = list(readings)
    order = [int(number) for number in rng.permutation(len(readings))]
    tens, swaps = n_wrong - n_wrong // 2, n_wrong // 4
    for place in order:
        here = spoiled[place]
        if here.mistake is not None:
            continue
        if tens > 0:
            tens -= 1
            factor = 10.0 if rng.random() < 0.5 else 0.1
            written = round(here.written_mm * factor, 3)
            spoiled[place] = _with(here, written, "factor of ten", close=False)
        elif swaps > 0:
            same = [
                number
                for number, other in enumerate(spoiled)
                if other.individual == here.individual
                and other.side == here.side
                and other.code[0] == here.code[0]
                and other.code != here.code
                and other.mistake is None
            ]
            if not same:
                continue
            swaps -= 1
            there = int(rng.choice(same))
            other = spoiled[there]
            close = abs(np.log(here.written_mm / other.written_mm)) < np.log(1.1)
            spoiled[place] = _with(here, other.written_mm, "swapped columns", close=bool(close))
            spoiled[there] = _with(other, here.written_mm, "swapped columns", close=bool(close))
    return spoiled


def _with(reading: Reading, written_mm: float, mistake: str, *, close: bool) -> Reading:
    return Reading(
        individual=reading.individual,
        side=reading.side,
        code=reading.code,
        written_mm=written_mm,
        mistake=mistake,
        close_columns=close,
    )
