"""How often testimony misleads: false alarms of change with copies, and copies found by shape.

``python benchmarks/bench_testimony.py`` prints the table kept in docs/testimony-accuracy.md.
Everything is compared within one run, with fixed seeds; nothing here is timed but the last
lines, against a plain loop over permutations.
"""

import time

import numpy as np
from numpy.typing import NDArray

from bonewright.findings import RowRef
from bonewright.study.model import DateSpan, MountMeasurement, Picture
from bonewright.testimony.change_point import find_change, pettitt_statistic
from bonewright.testimony.change_probability import change_probability
from bonewright.testimony.copies import find_copies
from bonewright.testimony.marks import MarkedPicture
from bonewright.testimony.mount import check_measure, expected_draws_mm
from bonewright.testimony.trend import find_trend

SEED = 1700
N_SERIES = 500
N_POINTS = 14
# Pose and proportion of unrelated pictures, copyists' hands (one a series, from faithful to
# free), and marking, as shares of size.
UNRELATED_SD, COPYING_SD, MARKING_SD = (0.07, 0.13), (0.01, 0.035), 0.004
SHARE_ENTERED = 0.5

Array = NDArray[np.float64]
SHAPE: Array = np.random.default_rng(1).standard_normal((N_POINTS, 2))


def picture(number: int, year: float, copy_of: str | None) -> Picture:
    """Make a row of pictures dated to within two years."""
    name = f"pic-{number:02d}"
    return Picture(
        ref=RowRef(table="pictures", row=number + 2, row_id=name),
        picture_id=name,
        title=name,
        date=DateSpan(earliest=year - 1, latest=year + 1, text=f"{year:.0f}"),
        drawn_from="unknown",
        copy_of=copy_of,
        creator=None,
        reliability=None,
        source_id=None,
    )


def marked(made: Picture, shape: Array, rng: np.random.Generator) -> MarkedPicture:
    """Mark a picture: turned, resized, perhaps mirrored, each point a little off."""
    angle, size = rng.uniform(-0.3, 0.3), rng.uniform(50, 300)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    mirror = np.array([-1.0 if rng.random() < 0.3 else 1.0, 1.0])
    places = size * (shape + MARKING_SD * rng.standard_normal(shape.shape)) * mirror @ turn.T
    return MarkedPicture(
        picture=made,
        points={f"point {i}": place for i, place in enumerate(places)},
        outline=np.empty((0, 2)),
        error_px=size * MARKING_SD,
        n_repeats=N_POINTS,
        observers=("A",),
        refs=(),
    )


def series(
    rng: np.random.Generator, share: float
) -> tuple[list[Picture], list[MarkedPicture], Array, set[str]]:
    """Simulate 20 to 40 pictures without any change of fatness, ``share`` of them copies.

    A few originals are copied often, and mostly soon: the way copies make a trend.
    """
    n = int(rng.integers(20, 41))
    n_copies = round(share * n)
    unrelated_sd, copying_sd = rng.uniform(*UNRELATED_SD), rng.uniform(*COPYING_SD)
    n_own = n - n_copies
    years = rng.uniform(1640, 1760, n_own)
    shapes = [SHAPE + unrelated_sd * rng.standard_normal(SHAPE.shape) for _ in range(n_own)]
    scores = list(np.clip(rng.normal(3, 0.8, n_own), 1, 5))
    popular = rng.choice(n_own, size=min(3, n_own), replace=False)
    pictures = [picture(i, float(year), None) for i, year in enumerate(years)]
    copies: set[str] = set()
    for number in range(n_own, n):
        of = int(rng.choice(popular))
        year = float(years[of] + rng.exponential(12.0) + 1)
        entered = rng.random() < SHARE_ENTERED
        pictures.append(picture(number, year, f"pic-{of:02d}" if entered else None))
        shapes.append(shapes[of] + copying_sd * rng.standard_normal(SHAPE.shape))
        scores.append(float(np.clip(scores[of] + rng.normal(0, 0.2), 1, 5)))
        copies.add(f"pic-{number:02d}")
    marks = [marked(one, shape, rng) for one, shape in zip(pictures, shapes, strict=True)]
    # Means over three scorers of half points.
    return pictures, marks, np.round(np.array(scores) * 6) / 6, copies


def alarms(pictures: list[Picture], scores: Array, chosen: set[str], seed: int) -> Array:
    """Return whether Pettitt, Mann-Kendall and the Bayes factor (3 to 1) see a change."""
    index = [i for i, one in enumerate(pictures) if one.picture_id in chosen]
    values, dates = scores[index], tuple(pictures[i].date for i in index)
    rngs = np.random.default_rng(seed).spawn(3)
    change = find_change(values, dates, with_copies=False, rng=rngs[0])
    trend = find_trend(values, dates, with_copies=False, rng=rngs[1])
    bayes = change_probability(values, dates, with_copies=False, rng=rngs[2])
    return np.array(
        [change.p_permutation < 0.05, trend.p_permutation < 0.05, bayes.bayes_factor > 3]
    )


def false_alarms() -> None:
    """Print false alarms of change by the share of copies, with copies handled and counted."""
    print(f"False alarms of change in {N_SERIES} series without any, % (one standard error: 1 %)")
    print("copies  handled: Pettitt  Kendall  Bayes>3 | counted: Pettitt  Kendall  Bayes>3")
    total = np.zeros(6)
    found, planted, wrong, own = 0, 0, 0, 0
    shares = (0.0, 0.15, 0.3, 0.45, 0.6)
    for share in shares:
        sums = np.zeros(6)
        for number in range(N_SERIES // len(shares)):
            rng = np.random.default_rng([SEED, round(100 * share), number])
            pictures, marks, scores, copies = series(rng, share)
            heard = find_copies(pictures, marks, kept=frozenset()).independent
            every = {one.picture_id for one in pictures}
            found += len(copies - heard)
            planted += len(copies)
            wrong += len((every - copies) - heard)
            own += len(every - copies)
            sums[:3] += alarms(pictures, scores, set(heard), number)
            sums[3:] += alarms(pictures, scores, every, number)
        total += sums
        row = 100 * sums / (N_SERIES // len(shares))
        print(f"{100 * share:5.0f} %          " + "   ".join(f"{value:6.1f}" for value in row))
    row = 100 * total / N_SERIES
    print("all            " + "   ".join(f"{value:6.1f}" for value in row))
    print(
        f"copies set aside: {found} of {planted} ({100 * found / planted:.1f} %), half of them"
        f" entered; originals set aside by mistake: {wrong} of {own} ({100 * wrong / own:.1f} %)"
    )


def mount_alarms() -> None:
    """Print how often right mounts are called wrong, and faults of given size are found."""
    rng = np.random.default_rng(SEED)
    mean = rng.normal(250, 2.5, 20_000)
    print("\nOld mount, one length (250 mm, individuals 4 %, soft tissue 4 to 18 mm):")
    for fault in (1.0, 0.9, 1.15, 0.8, 1.25, 0.7, 1.36):
        called = 0
        for _ in range(400):
            value = fault * (250 + 10 * rng.standard_normal() + rng.uniform(4, 18))
            row = MountMeasurement(
                ref=RowRef(table="mount_measurements", row=2, row_id="mt-01"),
                mount_id="m",
                title="length of the lower leg",
                element="tibiotarsus",
                code="GL",
                value_mm=value,
                allowance_low_mm=4.0,
                allowance_high_mm=18.0,
                source_id=None,
            )
            draws = expected_draws_mm(row, mean_draws_mm=mean, between_sd_mm=10.0, rng=rng)
            called += check_measure(row, draws).wrong
        print(f"  fault x {fault:.2f}: called wrong in {100 * called / 400:.1f} %")


def speed() -> None:
    """Print the whole permutation test against a plain loop over the same statistic."""
    rng = np.random.default_rng(SEED)
    values = rng.integers(2, 11, 40) / 2
    dates = tuple(DateSpan(earliest=y, latest=y + 1, text="") for y in np.arange(1640.0, 1680.0))
    start = time.perf_counter()
    find_change(values, dates, with_copies=False, rng=rng)
    ours = time.perf_counter() - start
    start = time.perf_counter()
    for _ in range(1000):
        pettitt_statistic(rng.permutation(values))
    loop = 10 * (time.perf_counter() - start)
    print(
        f"\nPettitt with 9,999 permutations, 40 pictures: {1000 * ours:.0f} ms, a plain loop"
        f" {loop / ours:.0f} times as long"
    )


if __name__ == "__main__":
    false_alarms()
    mount_alarms()
    speed()
