"""Which new measurement would narrow the verdict most, and by how much."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.judgement.lines import Line
from bonewright.judgement.mixture import Beliefs, covariance_of, moments_of_mixture
from bonewright.quantity import Draws

__all__ = ["Measurable", "NextEvidence", "worth_of_new_evidence"]

_Array = NDArray[np.float64]
# Nine equal parts of a normal distribution, by the middle of each.
_PARTS = 9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Measurable:
    """Something uncertain that can be measured better.

    ``draws`` (n_draws,) are its values now, and measuring ``action`` leaves ``left`` of its
    variance.
    """

    action: str
    draws: Draws
    left: float


@dataclass(frozen=True, slots=True, kw_only=True)
class NextEvidence:
    """An action and by how many percent it is expected to narrow the verdict's interval."""

    action: str
    narrower_percent: float


def worth_of_new_evidence(
    pooled: Sequence[Line],
    *,
    mass_kg: Draws,
    beliefs: Beliefs,
    measurable: Mapping[str, Measurable],
) -> tuple[NextEvidence, ...]:
    """Rank what could be measured next, best first.

    Parameters
    ----------
    pooled : sequence of Line
        The lines that enter the verdict.
    mass_kg : (n_draws,) float
        The verdict.
    measurable : mapping of a name to Measurable
        Inputs of the lines that more work would make surer.

    Notes
    -----
    An input's worth is read off the draws: of the variance of ln mass, the part that goes with
    the input (its squared correlation) shrinks as the input's own variance does. A new line is
    imagined to say, in turn, nine values that the present verdict and the line's own leaning
    make equally likely; the pool is done anew with each, and the expected variance taken. Both
    count what a result would teach on average, not what it would be.
    """
    ln_mass = np.log(mass_kg)
    found = []
    for item in measurable.values():
        spread = float(np.std(item.draws))
        if spread > 0:
            correlation = float(np.corrcoef(ln_mass, item.draws)[0, 1])
            found.append(_narrower(item.action, 1 - correlation**2 * (1 - item.left)))
    ln_masses = np.log(np.array([line.mass_draws_kg for line in pooled]))
    estimates, covariance = ln_masses.mean(axis=1), covariance_of(ln_masses)
    now = moments_of_mixture(estimates, covariance, beliefs)
    for place, line in enumerate(pooled):
        scale = np.ones(len(pooled))
        scale[place] = 0.5
        surer = covariance * np.outer(scale, scale)
        variance = moments_of_mixture(estimates, surer, beliefs)[1]
        found.append(
            _narrower(
                f"make this line twice as sure: {_first_lower(line.title)}", variance / now[1]
            )
        )
    own_sd = float(np.sqrt(np.median(np.diagonal(covariance))))
    found.append(
        _narrower(
            "add a line of another kind, as sure as the present ones"
            f" ({100 * np.expm1(own_sd):.0f} % uncertainty), that rests on nothing they rest on",
            _with_a_new_line(estimates, covariance, beliefs, own_sd=own_sd) / now[1],
        )
    )
    return tuple(sorted(found, key=lambda item: -item.narrower_percent))


def _with_a_new_line(
    estimates: _Array, covariance: _Array, beliefs: Beliefs, *, own_sd: float
) -> float:
    from scipy.special import ndtri

    mean, variance, _ = moments_of_mixture(estimates, covariance, beliefs)
    k = len(estimates)
    wider = np.zeros((k + 1, k + 1))
    wider[:k, :k] = covariance
    wider[k, k] = own_sd**2
    spread = (variance + own_sd**2 + beliefs.heterogeneity_scale**2) ** 0.5
    says = mean + spread * ndtri((np.arange(_PARTS) + 0.5) / _PARTS)
    return float(
        np.mean(
            [moments_of_mixture(np.append(estimates, said), wider, beliefs)[1] for said in says]
        )
    )


def _narrower(action: str, variance_ratio: float) -> NextEvidence:
    return NextEvidence(action=action, narrower_percent=100 * (1 - max(variance_ratio, 0.0) ** 0.5))


def _first_lower(title: str) -> str:
    return title[:1].lower() + title[1:]
