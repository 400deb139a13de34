"""How good and how fast the joint model of the skeleton is, on simulated studies.

Run ``python benchmarks/bench_skeleton.py`` (about ten minutes on a free machine;
``--studies 20`` for a look). It prints the table and writes it to
``docs/skeleton-accuracy.md``.
"""

import argparse
import os
import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from time import perf_counter, process_time

import numpy as np
from numpy.typing import NDArray

from bonewright.skeleton.average import AverageSkeleton, average_skeleton
from bonewright.skeleton.joint_average import AverageChoice
from bonewright.skeleton.joint_model import fit_joint_model
from simulate_studies import (
    CODES,
    SimulatedStudy,
    by_individual,
    simulate_study,
    study_rows,
    without,
)

DOCUMENT = Path(__file__).parents[1] / "docs" / "skeleton-accuracy.md"
SEED = 20261204
N_DRAWS = 4_000
NAMES = {
    "factor of ten": {"factor of ten"},
    "swapped columns": {"swapped columns", "wrong code"},  # the first look sees one of the two
}
NOT_FOUND = frozenset({"skull", "ulna", "pelvis", "tarsometatarsus"})


@dataclass(slots=True)
class Tally:
    """What came out over a set of studies."""

    covered: list[float] = field(default_factory=list)
    error: list[NDArray[np.float64]] = field(default_factory=list)
    plain_error: list[NDArray[np.float64]] = field(default_factory=list)
    missing: list[float] = field(default_factory=list)
    right_rows: int = 0
    false_alarms: int = 0
    planted: dict[str, int] = field(default_factory=dict)
    found: dict[str, int] = field(default_factory=dict)
    named: dict[str, int] = field(default_factory=dict)
    told_held: list[bool] = field(default_factory=list)
    told_width: list[float] = field(default_factory=list)
    seconds: list[float] = field(default_factory=list)

    def part(self, low: float, high: float) -> "Tally":
        """Return the coverage and errors of the studies with so much missing."""
        some = [n for n, share in enumerate(self.missing) if low <= share < high]
        return Tally(
            covered=[self.covered[n] for n in some],
            error=[self.error[n] for n in some],
            plain_error=[self.plain_error[n] for n in some],
            missing=[self.missing[n] for n in some],
        )

    def coverage(self) -> tuple[float, float]:
        """Return the share of intervals that held the truth and its standard error."""
        n = len(self.covered)
        return float(np.mean(self.covered)), float(np.std(self.covered) / np.sqrt(n))

    def errors(self) -> tuple[float, float]:
        """Return the median errors, joint and plain, over all lengths of all studies."""
        return (
            float(np.median(np.concatenate(self.error))),
            float(np.median(np.concatenate(self.plain_error))),
        )


def assess(
    study: SimulatedStudy, tally: Tally, rng: np.random.Generator, *, two_sizes: bool = False
) -> None:
    """Take the whole step as the program does, and tally against the truth."""
    named = list(dict.fromkeys(r.individual for r in study.readings))
    rows = study_rows(study, sexes_known_of=named[::2] if two_sizes else ())
    started = perf_counter()
    skeleton = average_skeleton(
        rows.specimens,
        rows.measurements,
        kept=frozenset(),
        set_aside=frozenset(),
        relative_measurements=rows.relative_measurements,
        choice=AverageChoice(both_sexes_alike=two_sizes),
        rng=rng,
        n_draws=N_DRAWS,
    )
    tally.seconds.append(perf_counter() - started)
    used = {row.measurement_id for row in skeleton.sorted_rows.measurements}
    kind_of = {doubt.ref.row_id: doubt.kind for doubt in skeleton.doubts if doubt.held_out}
    for number, reading in enumerate(study.readings):
        row_id = f"m-{number}"
        held_out = row_id not in used
        if reading.mistake is None:
            tally.right_rows += 1
            tally.false_alarms += held_out
        else:
            name = reading.mistake + (", under a tenth apart" if reading.close_columns else "")
            tally.planted[name] = tally.planted.get(name, 0) + 1
            tally.found[name] = tally.found.get(name, 0) + held_out
            right = kind_of.get(row_id) in NAMES[reading.mistake]
            tally.named[name] = tally.named.get(name, 0) + right
    means = [mean for key, mean in skeleton.means.items() if key in study.true_mean_mm]
    truth = np.array([study.true_mean_mm[mean.element, mean.code] for mean in means])
    low, middle, high = np.quantile(
        np.stack([mean.mean_draws_mm for mean in means], axis=1), [0.025, 0.5, 0.975], axis=0
    )
    plain = np.array([mean.plain.mean_mm for mean in means])
    tally.covered.append(float(np.mean((low <= truth) & (truth <= high))))
    tally.error.append(np.abs(np.log(middle / truth)))
    tally.plain_error.append(np.abs(np.log(plain / truth)))
    tally.missing.append(study.missing)
    _tally_told(skeleton, study, tally)


def _tally_told(skeleton: AverageSkeleton, study: SimulatedStudy, tally: Tally) -> None:
    """Tally the lengths of bones left out on purpose and told by relatives alone."""
    foretold = skeleton.from_relatives
    if foretold is None:
        return
    for code, draws in foretold.draws_mm.items():
        low, high = np.quantile(draws, [0.025, 0.975])
        tally.told_held.append(bool(low <= study.true_mean_mm[code] <= high))
        tally.told_width.append(float(np.log(high / low)))


def run_set(
    name: str,
    n_studies: int,
    settings: Callable[[np.random.Generator], dict[str, float]],
    *,
    two_sizes: bool = False,
    lost: frozenset[str] = frozenset(),
) -> Tally:
    """Simulate and assess a set of studies; the same name gives the same studies."""
    tally = Tally()
    for number in range(n_studies):
        rng = np.random.default_rng([SEED, *name.encode(), number])
        chosen = settings(rng)
        individuals = int(rng.integers(12, 41))
        study = simulate_study(rng, n_individuals=individuals, **chosen)
        assess(without(study, lost), tally, rng, two_sizes=two_sizes)
        if number % 20 == 19:
            print(f"{name}: {number + 1} of {n_studies} studies", file=sys.stderr, flush=True)
    return tally


def row(name: str, tally: Tally) -> str:
    """Write one table row of coverage and error."""
    covered, doubt = tally.coverage()
    joint, plain = tally.errors()
    return (
        f"| {name} | {len(tally.covered)} | {100 * covered:.1f} ± {100 * doubt:.1f} % |"
        f" {100 * joint:.2f} % | {100 * plain:.2f} % | {100 * (1 - joint / plain):+.0f} % |"
    )


def mistakes_table(tally: Tally) -> list[str]:
    """Write the table of planted mistakes."""
    lines = ["| mistake | planted rows | found | named right |", "| --- | --- | --- | --- |"]
    for name in sorted(tally.planted):
        n = tally.planted[name]
        lines.append(
            f"| {name} | {n} | {100 * tally.found[name] / n:.1f} % |"
            f" {100 * tally.named[name] / n:.1f} % |"
        )
    alarms = 100 * tally.false_alarms / tally.right_rows
    lines.append(f"| none (false alarms) | {tally.right_rows} | {alarms:.3f} % | |")
    return lines


@dataclass(frozen=True, slots=True, kw_only=True)
class Speed:
    """Best of three, s: on the clock, of the processor's time, and of plain normal draws."""

    clock: float
    processor: float
    plain: float
    bones: int
    codes: int


def speed(n_loose: int | None) -> Speed:
    """Time fit and 20,000 draws, and plain normal draws with a Cholesky factor."""
    rng = np.random.default_rng(SEED)
    study = simulate_study(rng, missing=0.3, n_individuals=60, mistakes=0.0)
    matrix = by_individual(study.readings)
    if n_loose is not None:
        study = simulate_study(rng, missing=0.3, n_individuals=60, mistakes=0.0, loose=1.0)
        matrix = by_individual(study.readings)
    bones = {(r, matrix.codes[c][0]) for r, c in zip(*np.nonzero(matrix.present), strict=True)}
    keep = sorted(bones)[: 400 if n_loose is None else n_loose]
    cells = np.zeros_like(matrix.present)
    for bone_row, element in keep:
        cells[bone_row] |= [code[0] == element for code in matrix.codes]
    matrix = matrix.only(cells)
    times, processor, reference = [], [], []
    for _ in range(3):
        start, of_processor = perf_counter(), process_time()
        model = fit_joint_model(matrix, rng=np.random.default_rng(1))
        worlds = model.mean_ln_worlds(rng=np.random.default_rng(2), n_draws=20_000)
        model.length_draws(worlds, n_draws=20_000)
        times.append(perf_counter() - start)
        processor.append(process_time() - of_processor)
        start = process_time()
        factor = np.linalg.cholesky(model.mean_covariance_ln)
        normals = np.random.default_rng(3).standard_normal((20_000, len(model.codes)))
        np.exp(normals @ factor.T + model.mean_ln)
        reference.append(process_time() - start)
    return Speed(
        clock=min(times),
        processor=min(processor),
        plain=min(reference),
        bones=len(keep),
        codes=len(model.codes),
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--studies", type=int, default=200, help="studies of the main sets")
    n = parser.parse_args().studies
    few, more = max(n // 10, 2), max(n * 3 // 10, 2)
    main_set = run_set("main", n, lambda rng: {"missing": float(rng.uniform(0.15, 0.8))})
    half = run_set("half", max(n // 5, 2), lambda _: {"missing": 0.5})
    loose = {
        share: run_set(
            f"loose {share}", many, lambda _, share=share: {"missing": 0.5, "loose": share}
        )
        for share, many in ((0.2, more), (0.5, more), (1.0, few))
    }
    uneven = {"missing": 0.5, "share_larger": 0.75, "gap_ln": 0.1}
    as_found = run_set("uneven", few, lambda _: uneven)
    both = run_set("uneven", few, lambda _: uneven, two_sizes=True)
    told = run_set("half", few, lambda _: {"missing": 0.5}, lost=NOT_FOUND)
    lines = [
        "# How good the average skeleton is",
        "",
        "Written by `benchmarks/bench_skeleton.py`; do not edit. Seed"
        f" {SEED}; every number below was measured by that run.",
        "",
        f"Simulated studies of an invented bird with {len(CODES)} measurements on 14 bones:"
        " 12 to 40 individuals, two sexes 0 to 12 % apart in size and dug up by chance alike,"
        " sizes varying by 3 to 5 % within a sex, proportions by 1 to 2 %, a third of bones"
        " broken, left or right or both measured, 3 % of rows mistaken (half by a factor of"
        " ten, half in columns of one bone swapped), 30 living relatives. 'Missing' is the"
        " share of an individual's bones not found. The whole step is run as the program runs"
        " it: mistakes are found and held out, errors of measuring and individuals worked out,"
        " and both ways of averaging get the same cleaned rows. Toe bones, which the tables do"
        " not tell apart, have their plain mean both ways. The error is of the mean length,"
        " relative, median over all lengths of all studies; the plain mean averages each"
        " measurement over the individuals that have it. Coverage is the share of 95 % intervals"
        " that hold the truth; lengths of one study are right or wrong together, hence the ±"
        " (standard error over studies).",
        "",
        "| studies | n | coverage | error, joint | error, plain mean | less by |",
        "| --- | --- | --- | --- | --- | --- |",
        row("15 to 80 % missing", main_set),
    ]
    for low, high in ((0.15, 0.35), (0.35, 0.5), (0.5, 0.65), (0.65, 0.8)):
        part = main_set.part(low, high)
        if part.covered:
            lines.append(row(f"of these {100 * low:.0f} to {100 * high:.0f} % missing", part))
    lines.append(row("50 % missing", half))
    lines += [
        row(f"50 % missing, {100 * share:.0f} % of bones loose", tally)
        for share, tally in loose.items()
    ]
    lines += [
        row("50 % missing, 3 of 4 of the larger sex, 10 % apart, mean of those found", as_found),
        row("the same, mean of both sexes, every second individual's sex known", both),
        "",
        "Loose bones are, unknown to the model, of the same individuals as the rest. Where nobody"
        " knows which bones belong together, they cannot speak for each other and the joint model"
        " gains little over the plain mean. So that one animal is not counted as several, the"
        " mean size is held no better known than the fewest animals that the bones can be of"
        " allow, loose bones falling on them as they come. Where"
        " one sex was collected more, the mean of those found is not the mean of the kind and"
        " its interval does not hold it; the mean of both sexes must be asked for.",
        "",
        "## Bones nobody has",
        "",
        f"{few} studies, 50 % missing, from which every {', '.join(sorted(NOT_FOUND))} was"
        f" taken away: {len(told.told_held)} lengths told by the 30 living relatives alone. Their"
        f" 95 % intervals held the truth {100 * np.mean(told.told_held):.1f} % of the time;"
        f" median interval from {100 * (1 - np.exp(-np.median(told.told_width) / 2)):.0f} % below"
        f" to {100 * (np.exp(np.median(told.told_width) / 2) - 1):.0f} % above. The invented animal"
        " is less like its relatives than they are like each other, on purpose.",
        "",
        "## Mistakes (the 15 to 80 % set)",
        "",
        *mistakes_table(main_set),
        "",
        "'Found' is a row held out for any reason; 'named right' with the right kind of"
        " mistake. Swapped columns that differ by less than a tenth are counted apart: such a"
        " swap may lie within what bones vary; it puts a value out by less than a tenth.",
        "",
        "## Speed",
        "",
        "| study | bones | codes | fit and 20,000 draws: processor | on the clock |"
        " plain normal draws | ratio |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    for name, n_loose in (("individuals", None), ("all bones loose", 400)):
        took = speed(n_loose)
        lines.append(
            f"| {name} | {took.bones} | {took.codes} | {took.processor:.2f} s |"
            f" {took.clock:.2f} s | {took.plain:.3f} s | {took.processor / took.plain:.0f} |"
        )
    lines += [
        "",
        f"Best of three, {os.cpu_count()} cores shared with other work (load"
        f" {os.getloadavg()[0]:.0f}), one thread: the processor's time is what the clock would"
        " show on a free core. Plain normal draws are"
        " 20,000 x the same number of codes in numpy, by a Cholesky factor that is already"
        " known: they fit nothing. The whole step on a study of the main set (mistakes, errors of"
        f" measuring, individuals, broken bones, {N_DRAWS:,} draws) took"
        f" {np.median(main_set.seconds):.1f} s in the middle.",
        "",
    ]
    text = "\n".join(lines)
    print(text)
    DOCUMENT.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
