"""The pooled mass under every defensible way to pool, side by side.

Nobody can pick quietly the way that suits: each stands here with its result, and the one that
the verdict uses says why.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.judgement.heterogeneity import (
    between_variance_dersimonian_laird,
    between_variance_paule_mandel,
    generalised_mean,
)
from bonewright.judgement.lines import Line
from bonewright.judgement.meta_analysis import (
    between_variance_reml,
    birge_interval,
    knapp_hartung_interval,
    normal_interval,
)
from bonewright.judgement.mixture import MixturePool, covariance_of
from bonewright.quantity import Draws

__all__ = ["PoolingOption", "option_of_draws", "pooling_options", "within_bound"]

_Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class PoolingOption:
    """One way to pool and what it gives: the middle and the ends of 95 %, kg.

    ``tau_ln`` is what it takes for the spread between methods, None where it takes none.
    ``argument`` says what speaks for or against it; ``default`` marks that of the verdict.
    """

    key: str
    title: str
    middle_kg: float
    low_kg: float
    high_kg: float
    tau_ln: float | None
    argument: str
    default: bool = False


def option_of_draws(
    key: str,
    title: str,
    *,
    mass_kg: Draws,
    argument: str,
    tau_ln: float | None = None,
    default: bool = False,
) -> PoolingOption:
    """Summarise draws of mass (n_draws,) as an option."""
    low, middle, high = np.quantile(mass_kg, [0.025, 0.5, 0.975])
    return PoolingOption(
        key=key,
        title=title,
        middle_kg=float(middle),
        low_kg=float(low),
        high_kg=float(high),
        tau_ln=tau_ln,
        argument=argument,
        default=default,
    )


def pooling_options(
    pooled: Sequence[Line],
    *,
    default: MixturePool,
    heavy_tailed: MixturePool,
    rng: np.random.Generator,
) -> tuple[PoolingOption, ...]:
    """Pool the lines in every way; the classical ones need two lines.

    Parameters
    ----------
    pooled : sequence of Line
        The lines that enter the verdict.
    default, heavy_tailed : MixturePool
        The pool of the verdict and the second opinion, already computed.
    """
    found = [
        option_of_draws(
            "half_normal",
            "Prior on how methods differ",
            mass_kg=np.exp(default.ln_mass),
            tau_ln=float(np.median(default.tau_ln)),
            argument="Says openly what is assumed, and averages over what the lines leave open.",
            default=True,
        ),
        option_of_draws(
            "heavy_tailed",
            "The same, and a line may be gravely wrong",
            mass_kg=np.exp(heavy_tailed.ln_mass),
            tau_ln=float(np.median(heavy_tailed.tau_ln)),
            argument="A second opinion: a line far from the others loses its pull.",
        ),
    ]
    if len(pooled) > 1:
        ln_masses = np.log(np.array([line.mass_draws_kg for line in pooled]))
        found += _classical(ln_masses.mean(axis=1), covariance_of(ln_masses))
        which = rng.integers(len(pooled), size=ln_masses.shape[1])
        found.append(
            option_of_draws(
                "every_line_alone",
                "Every line taken at its word, in turn",
                mass_kg=np.exp(ln_masses[which, np.arange(ln_masses.shape[1])]),
                argument="As if one line were right and the others told nothing; the widest.",
            )
        )
    return tuple(found)


def _classical(estimates: _Array, covariance: _Array) -> list[PoolingOption]:
    paule_mandel = between_variance_paule_mandel(estimates, covariance)
    reml = between_variance_reml(estimates, covariance)
    alone = np.diag(np.diagonal(covariance))
    dersimonian = between_variance_dersimonian_laird(estimates, np.diagonal(covariance))
    rows = (
        (
            "common",
            "Stated uncertainties only",
            0.0,
            covariance,
            normal_interval(estimates, covariance, between=0.0),
            "As if methods had no leanings of their own: too narrow whenever they have.",
        ),
        (
            "birge",
            "Stated uncertainties times the Birge ratio",
            0.0,
            covariance,
            birge_interval(estimates, covariance),
            "Common in metrology; too narrow for a handful of lines.",
        ),
        (
            "dersimonian_laird",
            "DerSimonian and Laird, nothing shared",
            dersimonian,
            alone,
            normal_interval(estimates, alone, between=dersimonian),
            "The best known; ignores what lines share and how little so few lines tell of tau.",
        ),
        (
            "paule_mandel",
            "Paule and Mandel",
            paule_mandel,
            covariance,
            normal_interval(estimates, covariance, between=paule_mandel),
            "No prior; takes the spread between methods as if it were known.",
        ),
        (
            "reml",
            "REML, interval of Knapp and Hartung",
            reml,
            covariance,
            knapp_hartung_interval(estimates, covariance, between=reml, least_factor=1.0),
            "No prior; honest of so few lines, and therefore hardly usable with two or three.",
        ),
    )
    return [
        PoolingOption(
            key=key,
            title=title,
            middle_kg=float(
                np.exp(generalised_mean(estimates, used + between * np.eye(len(used)))[0])
            ),
            low_kg=float(np.exp(max(interval[0], -_FAR_LN))),
            high_kg=float(np.exp(min(interval[1], _FAR_LN))),
            tau_ln=between**0.5,
            argument=argument,
        )
        for key, title, between, used, interval, argument in rows
    ]


# With two lines Student's t on one degree of freedom reaches beyond any animal.
_FAR_LN = 25.0


def within_bound(
    mass_kg: Draws,
    *,
    low_kg: Draws,
    high_kg: Draws,
    outside_weight: float,
    rng: np.random.Generator,
) -> Draws:
    """Return draws of mass weighed by a soft bound, (n_draws,).

    Parameters
    ----------
    mass_kg, low_kg, high_kg : (n_draws,) float
        The mass and the ends of the bound in the same imagined worlds.
    outside_weight : float
        Likelihood of a world outside its bound, over that of one inside.
    """
    inside = (mass_kg >= low_kg) & (mass_kg <= high_kg)
    weight = np.where(inside, 1.0, outside_weight)
    edges = np.cumsum(weight)
    at = (np.arange(len(mass_kg)) + rng.random()) * edges[-1] / len(mass_kg)
    picked = np.minimum(np.searchsorted(edges, at), len(mass_kg) - 1)
    return np.asarray(mass_kg[picked], dtype=np.float64)
