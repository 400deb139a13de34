"""How good and how fast the joint model of the skeleton is, on simulated studies.

Run ``python benchmarks/bench_skeleton.py`` (about five minutes on a free machine;
``--studies 20`` for a look). It prints the table and writes it to
``docs/skeleton-accuracy.md``.
"""

import argparse
import os
import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from time import perf_counter

import numpy as np
from numpy.typing import NDArray

from bonewright.skeleton.fit_of_bone import doubtful_cells
from bonewright.skeleton.joint_model import fit_joint_model, target_from_relatives
from bonewright.skeleton.left_out_rows import expected_from_relatives
from bonewright.skeleton.ln_matrix import LnMatrix
from simulate_studies import CODES, SimulatedStudy, by_individual, by_side, simulate_study

DOCUMENT = Path(__file__).parents[1] / "docs" / "skeleton-accuracy.md"
SEED = 20261125
N_DRAWS = 4_000


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
    """Find the mistakes, average the rest, and tally against the truth."""
    table = by_side(study.readings)
    doubts = {
        (misfit.row, misfit.code): misfit.kind
        for misfit in doubtful_cells(
            table,
            target=target_from_relatives(study.relatives, codes=table.codes),
            expected_ln=expected_from_relatives(study.relatives, table),
        )
    }
    sound = []
    for reading in study.readings:
        kind = doubts.get((f"{reading.individual}|{reading.side}", reading.code))
        if kind is None:
            sound.append(reading)
        if reading.mistake is None:
            tally.right_rows += 1
            tally.false_alarms += kind is not None
        else:
            name = reading.mistake + (", under a tenth apart" if reading.close_columns else "")
            tally.planted[name] = tally.planted.get(name, 0) + 1
            tally.found[name] = tally.found.get(name, 0) + (kind is not None)
            tally.named[name] = tally.named.get(name, 0) + (kind == reading.mistake)
    matrix = by_individual(tuple(sound))
    sexes = {row: study.larger_sex[row] for row in matrix.rows[::2]} if two_sizes else None
    model = fit_joint_model(
        matrix,
        target=target_from_relatives(study.relatives, codes=matrix.codes),
        larger_sex=sexes,
        two_sizes=two_sizes,
        fewest_animals=fewest_animals(matrix),
        rng=rng,
    )
    draws = model.length_draws(rng=rng, n_draws=N_DRAWS)
    low, middle, high = np.quantile(draws, [0.025, 0.5, 0.975], axis=0)
    truth = np.array([study.true_mean_mm[code] for code in matrix.codes])
    tally.covered.append(float(np.mean((low <= truth) & (truth <= high))))
    tally.error.append(np.abs(np.log(middle / truth)))
    tally.plain_error.append(np.abs(np.log(plain_means(matrix) / truth)))
    tally.missing.append(study.missing)


def fewest_animals(matrix: LnMatrix) -> int:
    """Return how many animals the rows stand for at least."""
    named = sum(not name.startswith("loose") for name in matrix.rows)
    elements = {element for element, _ in matrix.codes}
    of_element = [
        matrix.present[:, [code[0] == element for code in matrix.codes]].any(axis=1).sum()
        for element in elements
    ]
    return int(max(named, *of_element))


def plain_means(matrix: LnMatrix) -> NDArray[np.float64]:
    """Return each code's mean length over the individuals that have it, mm."""
    lengths = np.where(matrix.present, np.exp(matrix.values_ln), 0.0)
    return np.asarray(lengths.sum(axis=0) / matrix.present.sum(axis=0))


def run_set(
    name: str,
    n_studies: int,
    settings: Callable[[np.random.Generator], dict[str, float]],
    *,
    two_sizes: bool = False,
) -> Tally:
    """Simulate and assess a set of studies; the same name gives the same studies."""
    tally = Tally()
    for number in range(n_studies):
        rng = np.random.default_rng([SEED, *name.encode(), number])
        chosen = settings(rng)
        individuals = int(rng.integers(12, 41))
        study = simulate_study(rng, n_individuals=individuals, **chosen)
        assess(study, tally, rng, two_sizes=two_sizes)
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


def speed(n_loose: int | None) -> tuple[float, float, int, int]:
    """Time fit and 20,000 draws, and plain normal draws with a Cholesky factor, in s."""
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
    times, reference = [], []
    for _ in range(3):
        start = perf_counter()
        model = fit_joint_model(matrix, rng=np.random.default_rng(1))
        model.length_draws(rng=np.random.default_rng(2), n_draws=20_000)
        times.append(perf_counter() - start)
        start = perf_counter()
        factor = np.linalg.cholesky(model.mean_covariance_ln)
        normals = np.random.default_rng(3).standard_normal((20_000, len(model.codes)))
        np.exp(normals @ factor.T + model.mean_ln)
        reference.append(perf_counter() - start)
    return min(times), min(reference), len(keep), len(model.codes)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--studies", type=int, default=200, help="studies of the main sets")
    n = parser.parse_args().studies
    few = max(n // 5, 2)
    main_set = run_set("main", n, lambda rng: {"missing": float(rng.uniform(0.15, 0.8))})
    half = run_set("half", max(n // 2, 2), lambda _: {"missing": 0.5})
    loose = {
        share: run_set("loose", few, lambda _, share=share: {"missing": 0.5, "loose": share})
        for share in (0.2, 0.5, 1.0)
    }
    uneven = {"missing": 0.5, "share_larger": 0.75, "gap_ln": 0.1}
    as_found = run_set("uneven", few, lambda _: uneven)
    both = run_set("uneven", few, lambda _: uneven, two_sizes=True)
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
        " share of an individual's bones not found. Mistakes are found first, and both ways of"
        " averaging get the same cleaned rows. The error is of the mean length, relative,"
        " median over all lengths of all studies; the plain mean averages each measurement"
        " over the individuals that have it. Coverage is the share of 95 % intervals that hold"
        " the truth; lengths of one study are right or wrong together, hence the ± (standard"
        " error over studies).",
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
        " gains little over the plain mean. So that one animal is not counted as several, no"
        " mean is held better known than the fewest animals that the bones can be of allow."
        " Where"
        " one sex was collected more, the mean of those found is not the mean of the kind and"
        " its interval does not hold it; the mean of both sexes must be asked for.",
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
        "| study | bones | codes | fit and 20,000 draws | plain normal draws | ratio |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for name, n_loose in (("individuals", None), ("all bones loose", 400)):
        taken, reference, bones, codes = speed(n_loose)
        lines.append(
            f"| {name} | {bones} | {codes} | {taken:.2f} s | {reference:.3f} s |"
            f" {taken / reference:.0f} |"
        )
    lines += [
        "",
        f"Best of three, {os.cpu_count()} cores shared with other work. Plain normal draws are"
        " 20,000 x the same number of codes in numpy, by a Cholesky factor that is already"
        " known: they fit nothing.",
        "",
    ]
    text = "\n".join(lines)
    print(text)
    DOCUMENT.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
