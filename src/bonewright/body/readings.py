"""Repeated readings of one maquette's volume: their mean, and the doubtful among them."""

from collections.abc import Sequence
from typing import Literal

import numpy as np

from bonewright.body.decisions import Places, decision_on
from bonewright.findings import Doubt
from bonewright.quantity import Draws
from bonewright.study.model import BodyReading

__all__ = ["FEWEST_FOR_OWN_SPREAD", "doubt_readings", "mean_reading_draws", "net_volume_m3"]

FEWEST_FOR_OWN_SPREAD = 4
# Common practice: repeats of one model agree within about 2 %; the assumption weighs as much
# as three further readings.
_ASSUMED_SPREAD_LN = 0.02
_ASSUMED_DEGREES_OF_FREEDOM = 3
_LIMIT_LN = float(np.log(1.2))


def net_volume_m3(reading: BodyReading) -> float:
    """Return the volume displaced less what is no part of the body; may be negative."""
    return reading.volume_m3 - reading.armature_volume_m3


def mean_reading_draws(
    volumes_m3: Sequence[float], *, rng: np.random.Generator, n_draws: int
) -> Draws:
    """Draw the mean of repeated readings, shape (n_draws,), m3.

    A t interval on logarithms from four readings on. With fewer, their spread is too poorly
    known alone and is joined with the assumption of 2 %.
    """
    ln_volumes = np.log(np.asarray(volumes_m3, dtype=np.float64))
    squares = float(((ln_volumes - ln_volumes.mean()) ** 2).sum())
    degrees_of_freedom = len(ln_volumes) - 1
    if len(ln_volumes) < FEWEST_FOR_OWN_SPREAD:
        squares += _ASSUMED_DEGREES_OF_FREEDOM * _ASSUMED_SPREAD_LN**2
        degrees_of_freedom += _ASSUMED_DEGREES_OF_FREEDOM
    error = float(np.sqrt(squares / degrees_of_freedom / len(ln_volumes)))
    variate = rng.standard_t(degrees_of_freedom, size=n_draws)
    return np.asarray(np.exp(ln_volumes.mean() + error * variate), dtype=np.float64)


def doubt_readings(
    readings: Sequence[BodyReading],
    *,
    kept: Places,
    set_aside: Places,
) -> tuple[Doubt, ...]:
    """Find readings of one maquette that cannot be repeats of the others.

    A reading is doubted where its net volume is not positive, or lies more than 20 % from
    the median of the readings of its maquette. Two readings that disagree are both doubted:
    which one is wrong cannot be told.
    """
    judged = [r for r in readings if (r.ref.table, r.ref.row_id) not in set_aside]
    possible = [net_volume_m3(r) for r in judged if net_volume_m3(r) > 0]
    doubts = []
    for reading in readings:
        net = net_volume_m3(reading)
        decided = decision_on(reading.ref, kept, set_aside)
        if net <= 0:
            doubts.append(
                _doubt(
                    reading,
                    column="armatureVolume",
                    kind="armature larger than the volume",
                    expected="less than the volume displaced",
                    found_m3=reading.armature_volume_m3,
                    # No decision makes a negative body.
                    held_out=True,
                    decided=decided,
                )
            )
            continue
        median = float(np.exp(np.median(np.log(possible)))) if possible else net
        excess = float(np.log(net / median))
        if abs(excess) > _limit(possible):
            by_armature = abs(np.log(reading.volume_m3 / median)) < abs(excess) / 2
            doubts.append(
                _doubt(
                    reading,
                    column="armatureVolume" if by_armature else "measurementValue",
                    kind="factor of ten" if _is_power_of_ten(excess) else "out of line",
                    expected=f"about {median * 1e6:.4g} mL net, as the other readings of"
                    f" {reading.body_id} have",
                    found_m3=net,
                    held_out=decided != "keep",
                    decided=decided,
                )
            )
    return tuple(doubts)


def _limit(volumes_m3: Sequence[float]) -> float:
    # The median of two lies half-way between them, so each departs by half the difference.
    return _LIMIT_LN / 2 if len(volumes_m3) == 2 else _LIMIT_LN


def _is_power_of_ten(excess_ln: float) -> bool:
    tens = abs(excess_ln) / np.log(10)
    return bool(round(tens) >= 1 and abs(tens - round(tens)) < 0.12)


def _doubt(
    reading: BodyReading,
    *,
    column: str,
    kind: str,
    expected: str,
    found_m3: float,
    held_out: bool,
    decided: Literal["keep", "set aside"] | None,
) -> Doubt:
    return Doubt(
        ref=reading.ref,
        column=column,
        kind=kind,
        found=f"{found_m3 * 1e6:.4g} mL",
        expected=expected,
        mend="Look at the decimal point and the unit, or take the reading again.",
        held_out=held_out,
        decided=decided,
    )
