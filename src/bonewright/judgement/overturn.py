"""What would overturn the verdict: the result each line would have to give."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.judgement.lines import Line
from bonewright.judgement.mixture import Beliefs, covariance_of, moments_of_mixture
from bonewright.quantity import Draws

__all__ = ["Overturn", "StrengthBound", "mass_that_flips", "what_would_overturn"]

_Array = NDArray[np.float64]
# A line that would have to be out by more than this is no longer one about this animal.
_FURTHEST_LN = np.log(30.0)
_TRIALS = 61
_ROUNDS = 24
_CLOSE_LN = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StrengthBound:
    """The window of masses that the legs' strength allows, draw by draw (kg)."""

    low_kg: Draws
    high_kg: Draws

    def share_inside(self, mass_kg: Draws) -> float:
        """Return the share of imagined worlds in which the mass lies inside the window."""
        return float(np.mean((mass_kg >= self.low_kg) & (mass_kg <= self.high_kg)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Overturn:
    """What one line would have to say, kg; None where no result of it alone would do.

    ``says_kg`` is its median now. ``above_kg`` would lift the verdict's middle to the upper
    end of its present interval, ``below_kg`` press it to the lower. ``flips_kg`` would bring
    the mass to where the legs' answer turns.
    """

    key: str
    title: str
    says_kg: float
    above_kg: float | None
    below_kg: float | None
    flips_kg: float | None


def mass_that_flips(mass_kg: Draws, bound: StrengthBound) -> float | None:
    """Return the middle mass nearest to the present one at which the legs' answer turns.

    The answer turns where the share of imagined worlds inside the window crosses one half.
    None where no mass between a thirtieth and thirty times the present one does it.
    """
    steps = np.linspace(0, _FURTHEST_LN, _TRIALS)[1:]
    # Worlds enter the window at one shift of their mass and leave it at another.
    enters = np.sort(np.log(np.maximum(bound.low_kg, 1e-300) / mass_kg))
    leaves = np.sort(np.log(np.maximum(bound.high_kg, 1e-300) / mass_kg))

    def inside(shift: float) -> bool:
        entered = np.searchsorted(enters, shift, side="right")
        left = np.searchsorted(leaves, shift, side="left")
        return bool(entered - left >= len(mass_kg) / 2)

    now = inside(0.0)

    def turned(shift: float) -> bool:
        return inside(shift) != now

    found = [
        _halved(turned, sign * float(steps[place - 1] if place else 0.0), sign * float(step))
        for sign in (1.0, -1.0)
        for place, step in list(enumerate(steps))
        if turned(sign * float(step)) and not (place and turned(sign * float(steps[place - 1])))
    ]
    if not found:
        return None
    return float(np.median(mass_kg) * np.exp(min(found, key=abs)))


def _halved(holds: Callable[[float], bool], out: float, inside: float) -> float:
    for _ in range(_ROUNDS):
        middle = (out + inside) / 2
        if holds(middle):
            inside = middle
        else:
            out = middle
    return inside


def what_would_overturn(
    pooled: Sequence[Line],
    *,
    mass_kg: Draws,
    beliefs: Beliefs,
    flips_at_kg: float | None,
) -> tuple[Overturn, ...]:
    """Say for each pooled line what it would have to give to overturn the verdict.

    Parameters
    ----------
    pooled : sequence of Line
        The lines that enter the verdict.
    mass_kg : (n_draws,) float
        The verdict.
    beliefs : Beliefs
        Those of the verdict's pool.
    flips_at_kg : float or None
        The middle mass at which the legs' answer turns (:func:`mass_that_flips`).

    Notes
    -----
    The line's own uncertainty is kept and only its middle moved; the others stay as they are.
    Pooled with others a line has the less pull the further out it lies, so that there may be
    no such result.
    """
    ln_masses = np.log(np.array([line.mass_draws_kg for line in pooled]))
    estimates, covariance = ln_masses.mean(axis=1), covariance_of(ln_masses)
    low, middle, high = np.quantile(mass_kg, [0.025, 0.5, 0.975])
    # The pool's mean and the draws' median differ by a hair: move by differences.
    origin = moments_of_mixture(estimates, covariance, beliefs)[0]
    found = []
    for place, line in enumerate(pooled):

        def moved(shift: float, place: int = place) -> float:
            other = estimates.copy()
            other[place] += shift
            return moments_of_mixture(other, covariance, beliefs)[0] - origin

        says_kg = float(np.median(line.mass_draws_kg))
        targets = [np.log(high / middle), np.log(low / middle)]
        if flips_at_kg is not None:
            targets.append(np.log(flips_at_kg / middle))
        shifts = [_shift_to(moved, float(target)) for target in targets]
        said = [None if shift is None else says_kg * float(np.exp(shift)) for shift in shifts]
        found.append(
            Overturn(
                key=line.key,
                title=line.title,
                says_kg=says_kg,
                above_kg=said[0],
                below_kg=said[1],
                flips_kg=said[2] if len(said) > 2 else None,
            )
        )
    return tuple(found)


def _shift_to(moved: Callable[[float], float], target: float) -> float | None:
    """Return the least shift of a line (ln) that moves the pool by ``target``, or None."""
    sign = 1.0 if target > 0 else -1.0
    before, short = 0.0, -abs(target)
    for step in np.geomspace(0.02, _FURTHEST_LN, 14):
        shift = sign * float(step)
        over = sign * (moved(shift) - target)
        if over >= 0:
            return _crossing(lambda at: sign * (moved(at) - target), (before, short), (shift, over))
        before, short = shift, over
    return None


def _crossing(
    excess: Callable[[float], float], low: tuple[float, float], high: tuple[float, float]
) -> float:
    """Return where a function crosses 0 between two places, each with its value there.

    By the rule of false position; an end that stays loses half its weight (Illinois), so that
    both close in.
    """
    (out, short), (inside, over) = low, high
    moved_last = 0.0
    for _ in range(_ROUNDS):
        if abs(inside - out) < _CLOSE_LN or over == 0:
            break
        at = (out * over - inside * short) / (over - short)
        found = excess(at)
        if abs(found) < _CLOSE_LN:
            return at
        if found > 0:
            inside, over = at, found
            short = short / 2 if moved_last > 0 else short
        else:
            out, short = at, found
            over = over / 2 if moved_last < 0 else over
        moved_last = found
    return inside
