"""The cut list: which pieces come from which bar, so that the least stock is bought.

Cutting stock to size is an old puzzle: the best answer needs whole numbers. Patterns (ways to
cut one bar) are listed, and a solver of whole-number programmes (HiGHS, through SciPy)
chooses how often each is cut [Gilmore1961]_. Where the patterns are too many to list, pieces
are laid in by size, longest first, and the answer says how far from the best it may be.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from bonewright.errors import OutsideRange

__all__ = ["BarCut", "CutPlan", "cut_plan"]

_MOST_PATTERNS = 20_000
_SECONDS = 5.0
_CLOSE = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class BarCut:
    """One bar of stock: its length, the pieces cut from it, and what is left over."""

    stock_mm: float
    pieces: tuple[tuple[str, float], ...]
    left_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CutPlan:
    """Bars to buy and how to cut them.

    ``bought_mm`` is the length of all of them, ``least_mm`` a length that no plan can stay
    below; ``best`` tells whether it is proved that no plan buys less.
    """

    bars: tuple[BarCut, ...]
    bought_mm: float
    least_mm: float
    best: bool

    @property
    def waste_percent(self) -> float:
        """Return what is not piece, saw cuts counted as waste, of what is bought."""
        used = sum(length for bar in self.bars for _, length in bar.pieces)
        return 100 * (1 - used / self.bought_mm) if self.bought_mm else 0.0


def cut_plan(
    pieces: Sequence[tuple[str, float]], stock_mm: Sequence[float], *, saw_cut_mm: float
) -> CutPlan:
    """Cut pieces from bars of the given lengths, buying as little length as can be.

    Parameters
    ----------
    pieces : sequence of (name, length mm)
    stock_mm : sequence of float
        Lengths in which the stock is sold, as many of each as needed.
    saw_cut_mm : float
        Lost at every cut; a piece that ends where the bar ends needs no cut there.

    Raises
    ------
    OutsideRange
        If a piece is longer than every bar, or a length is not above 0.
    """
    lengths = sorted(set(stock_mm), reverse=True)
    _refuse(pieces, lengths)
    if not pieces:
        return CutPlan(bars=(), bought_mm=0.0, least_mm=0.0, best=True)
    # With a saw cut after each piece, and room for one more at the end of the bar, the last
    # piece may reach the end.
    wanted = Counter(length + saw_cut_mm for _, length in pieces)
    room = [length + saw_cut_mm for length in lengths]
    laid = _longest_first(wanted, room)
    least = _least_bought(wanted, room, lengths, saw_cut_mm)
    bought = sum(lengths[which] for which, _ in laid)
    best = bought <= least + _CLOSE
    if not best:
        found = _by_solver(wanted, room, lengths)
        if found is not None:
            laid, least = found
            bought = sum(lengths[which] for which, _ in laid)
            best = bought <= least + _CLOSE * bought
    return CutPlan(
        bars=_named(pieces, laid, lengths, saw_cut_mm),
        bought_mm=bought,
        least_mm=least,
        best=best,
    )


def _refuse(pieces: Sequence[tuple[str, float]], lengths: Sequence[float]) -> None:
    if not lengths or min(lengths) <= 0 or any(length <= 0 for _, length in pieces):
        raise OutsideRange(
            "A bar or a piece to be cut has no length.",
            remedy="Give lengths above 0 mm.",
        )
    long = [f"{name} ({length:.0f} mm)" for name, length in pieces if length > lengths[0]]
    if long:
        raise OutsideRange(
            f"Longer than every bar in stock, {lengths[0]:g} mm: {', '.join(long)}.",
            remedy="Add longer stock to tables/stock.csv, or join the piece from two.",
        )


_Laid = list[tuple[int, Counter[float]]]


def _longest_first(wanted: Counter[float], room: Sequence[float]) -> _Laid:
    """Lay pieces in by size into the longest bars, then shorten each bar to the least that fits."""
    left: list[float] = []
    bars: list[Counter[float]] = []
    for length in sorted(wanted.elements(), reverse=True):
        fits = [number for number, free in enumerate(left) if free >= length - _CLOSE]
        if fits:
            number = min(fits, key=lambda n: left[n])
        else:
            number = len(left)
            left.append(room[0])
            bars.append(Counter())
        left[number] -= length
        bars[number][length] += 1
    laid = []
    for bar in bars:
        used = sum(bar.elements())
        which = max(n for n, free in enumerate(room) if free >= used - _CLOSE)
        laid.append((which, bar))
    return laid


def _least_bought(
    wanted: Counter[float], room: Sequence[float], lengths: Sequence[float], saw_cut_mm: float
) -> float:
    """Return a length that no plan can stay below, from the pieces' sum alone."""
    total = sum(wanted.elements())
    if len(lengths) == 1:
        return float(np.ceil(total / room[0] - _CLOSE)) * lengths[0]
    # Of every bar bought one saw cut may be spared.
    return max(total * min(n / (n + saw_cut_mm) for n in lengths), min(lengths))


def _by_solver(
    wanted: Counter[float], room: Sequence[float], lengths: Sequence[float]
) -> tuple[_Laid, float] | None:
    """Choose patterns by whole-number programming; None where they cannot all be listed."""
    from scipy.optimize import Bounds, LinearConstraint, milp

    sizes = sorted(wanted, reverse=True)
    patterns: list[tuple[int, tuple[int, ...]]] = []
    for which, free in enumerate(room):
        found = _patterns(sizes, wanted, free, _MOST_PATTERNS - len(patterns))
        if found is None:
            return None
        patterns += [(which, pattern) for pattern in found]
    columns = np.array([pattern for _, pattern in patterns], dtype=np.float64).T
    cost = np.array([lengths[which] for which, _ in patterns])
    answer = milp(
        cost,
        constraints=LinearConstraint(columns, lb=np.array([wanted[size] for size in sizes])),
        integrality=np.ones(len(cost), dtype=np.int64),
        bounds=Bounds(0, np.inf),
        options={"time_limit": _SECONDS, "mip_rel_gap": 0.0},
    )
    if answer.x is None:
        return None
    still = Counter(wanted)
    laid: _Laid = []
    for (which, pattern), times in zip(patterns, np.rint(answer.x).astype(int), strict=True):
        for _ in range(times):
            # Patterns may cut more of a size than is wanted; the surplus stays on the bar.
            bar = Counter(
                {
                    size: min(count, still[size])
                    for size, count in zip(sizes, pattern, strict=True)
                    if min(count, still[size])
                }
            )
            still -= bar
            laid.append((which, bar))
    # The bound holds to the solver's own accuracy; whole bars make it exact.
    least = float(answer.mip_dual_bound)
    bought = sum(lengths[which] for which, _ in laid)
    if bought - least < 1e-6 * bought:
        least = bought
    return laid, least


def _patterns(
    sizes: Sequence[float], wanted: Mapping[float, int], free: float, most: int
) -> list[tuple[int, ...]] | None:
    """List the ways to cut one bar that leave no room for a further piece; None if too many."""
    found: list[tuple[int, ...]] = []
    counts = [0] * len(sizes)

    def lay(place: int, left: float) -> bool:
        if place == len(sizes):
            spare = any(
                counts[n] < wanted[size] and size <= left + _CLOSE for n, size in enumerate(sizes)
            )
            if not spare:
                found.append(tuple(counts))
            return len(found) <= most
        size = sizes[place]
        fit = min(wanted[size], int((left + _CLOSE) // size))
        for count in range(fit, -1, -1):
            counts[place] = count
            if not lay(place + 1, left - count * size):
                return False
        counts[place] = 0
        return True

    return found if lay(0, free) else None


def _named(
    pieces: Sequence[tuple[str, float]],
    laid: _Laid,
    lengths: Sequence[float],
    saw_cut_mm: float,
) -> tuple[BarCut, ...]:
    names: dict[float, list[str]] = {}
    for name, length in pieces:
        names.setdefault(length + saw_cut_mm, []).append(name)
    bars = []
    for which, bar in laid:
        cut = [
            (names[size].pop(0), size - saw_cut_mm) for size in sorted(bar.elements(), reverse=True)
        ]
        used = sum(size for size in bar.elements())
        bars.append(
            BarCut(
                stock_mm=lengths[which],
                pieces=tuple(cut),
                left_mm=max(lengths[which] - used, 0.0),
            )
        )
    return tuple(sorted(bars, key=lambda one: (-one.stock_mm, one.left_mm)))
