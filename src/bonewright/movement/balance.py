"""Standing still: how surely the centre of mass lies over the feet."""

from dataclasses import dataclass

import numpy as np

from bonewright.quantity import Draws

__all__ = ["StanceBalance", "stance_balance"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StanceBalance:
    """Balance in one state of fatness, (n_draws,).

    ``margin_mm`` is the distance from the plumb line of the centre of mass to the nearer
    end of the feet, negative where it falls outside; ``tip_rad`` the angle by which the
    body may lean towards that end before it tips.
    """

    state: str
    margin_mm: Draws
    tip_rad: Draws

    @property
    def share_over_feet(self) -> float:
        """Share of draws in which the centre of mass lies over the feet."""
        return float(np.mean(self.margin_mm >= 0))


def stance_balance(state: str, *, centre_m: Draws, foot_length_mm: Draws) -> StanceBalance:
    """Judge the stance of a body whose centre of mass is known.

    Parameters
    ----------
    state : str
        Lean, mean or fat.
    centre_m : (n_draws, 2)
        Centre of mass ahead of the middle of the feet, and above the ground.
    foot_length_mm : (n_draws,)
        From the hindmost to the foremost end of the feet.
    """
    margin = foot_length_mm / 2 - np.abs(centre_m[:, 0]) * 1000
    return StanceBalance(
        state=state,
        margin_mm=np.asarray(margin),
        tip_rad=np.asarray(np.arctan2(margin, centre_m[:, 1] * 1000)),
    )
