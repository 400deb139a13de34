"""Rival hypotheses of the animal's condition, side by side."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from bonewright.judgement.overturn import StrengthBound
from bonewright.judgement.own_ratios import (
    OwnRatio,
    heard_once,
    names_hypothesis,
    weighed_by_hand,
)
from bonewright.quantity import Draws, Quantity, Summary
from bonewright.study.model import Hypothesis

__all__ = ["FatnessWitness", "HypothesisJudged", "WeightClaim", "judge_hypotheses"]

# The middle score of each state on the pictures' scale of fatness, 1 very lean to 5 very fat,
# and how far artist and scorer together scatter about it (common practice: about a point).
_SCORE = {"lean": 1.5, "mean": 3.0, "fat": 4.5}
_SCORE_SD = 1.0
_SCORES = (1.0, 5.0)
# A witness's weight is off by a quarter either way as easily as not.
_CLAIM_SD_LN = 0.35


@dataclass(frozen=True, slots=True, kw_only=True)
class FatnessWitness:
    """An independent picture's mean score of fatness, 1 to 5."""

    picture_id: str
    title: str
    score: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WeightClaim:
    """An independent claim of weight, kg."""

    claim_id: str
    account_id: str
    title: str
    value_kg: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HypothesisJudged:
    """What one hypothesis entails and how the witnesses stand to it.

    ``masses_kg``, ``strength`` and ``share_strong`` are by state (one or two). ``strength`` is
    how many times as strong the legs are, for the weight they carry, as those of the weakest
    animal compared; ``share_strong`` the share of imagined worlds in which they lie within the
    comparison's range, None without one. ``fasting_days`` is None where nobody could tell.
    ``ln_likelihood`` is that of pictures and weights claimed, up to what is the same for every
    hypothesis; ``own`` are the person's own ratios that name it. ``posterior`` is None unless
    every hypothesis has a prior; ``posterior_without_own`` is that without the own ratios.
    """

    key: str
    title: str
    reason: str
    states: tuple[str, ...]
    masses_kg: Mapping[str, Summary]
    strength: Mapping[str, Summary]
    share_strong: Mapping[str, float | None]
    fasting_days: Summary | None
    explains: tuple[str, ...]
    contradicts: tuple[str, ...]
    ln_likelihood: float
    n_witnesses: int
    own: tuple[OwnRatio, ...]
    prior: float | None
    posterior: float | None = None
    posterior_without_own: float | None = None

    @property
    def ln_own(self) -> float:
        """Return the natural logarithm of what the own ratios multiply to."""
        return sum(ratio.ln_ratio for ratio in self.own)


def judge_hypotheses(
    hypotheses: Sequence[Hypothesis],
    *,
    mass_by_state_kg: Mapping[str, Draws],
    bound: StrengthBound | None,
    fasting_days: Draws | None,
    pictures: Sequence[FatnessWitness],
    claims: Sequence[WeightClaim],
    own_ratios: Sequence[OwnRatio] = (),
) -> tuple[HypothesisJudged, ...]:
    """Work out each hypothesis and hold the independent witnesses against it.

    Parameters
    ----------
    hypotheses
        Rows of the table: the state in the lean and in the fat season.
    mass_by_state_kg : mapping of lean, mean and fat to (n_draws,)
        The animal's mass in each state.
    fasting_days : (n_draws,) float or None
        Days of fasting from the fat to the lean state.
    pictures, claims
        Independent witnesses only: a copy tells no more than its model.
    own_ratios : sequence of OwnRatio
        What the person holds claims to be worth; those that name no hypothesis are passed over.

    Notes
    -----
    A picture was drawn in either season, equally likely: its score has a normal density about
    the state's middle score, cut off at the ends of the scale. A claim of weight has a
    lognormal density about the state's mass. Witnesses are taken as independent. A person's
    own ratio multiplies the likelihood of the hypothesis it names and leaves that of the others
    as it is; the weights claimed by an account that a person has so weighed are passed over.
    """
    by_hand = weighed_by_hand(own_ratios, hypotheses)
    judged = [
        _judge(
            row,
            mass_by_state_kg=mass_by_state_kg,
            bound=bound,
            fasting_days=fasting_days,
            pictures=pictures,
            claims=[claim for claim in claims if claim.account_id not in by_hand],
            own=heard_once(r for r in own_ratios if names_hypothesis(r.speaks_for, row)),
        )
        for row in hypotheses
    ]
    by_rule = _posteriors(judged, [item.ln_likelihood for item in judged])
    in_all = _posteriors(judged, [item.ln_likelihood + item.ln_own for item in judged])
    return tuple(
        replace(item, posterior=posterior, posterior_without_own=without)
        for item, posterior, without in zip(judged, in_all, by_rule, strict=True)
    )


def _judge(
    row: Hypothesis,
    *,
    mass_by_state_kg: Mapping[str, Draws],
    bound: StrengthBound | None,
    fasting_days: Draws | None,
    pictures: Sequence[FatnessWitness],
    claims: Sequence[WeightClaim],
    own: tuple[OwnRatio, ...],
) -> HypothesisJudged:
    states = tuple(dict.fromkeys((row.lean_season, row.fat_season)))
    masses = {state: mass_by_state_kg[state] for state in states if state in mass_by_state_kg}
    explains: list[str] = []
    contradicts: list[str] = []
    ln_likelihood = 0.0
    for picture in pictures:
        ln_likelihood += math.log(
            sum(_score_density(picture.score, state) for state in states) / len(states)
        )
        fits = any(abs(picture.score - _SCORE[state]) <= _SCORE_SD for state in states)
        (explains if fits else contradicts).append(picture.title)
    n_witnesses = len(pictures)
    if len(masses) == len(states):
        n_witnesses += len(claims)
        for claim in claims:
            densities = [
                np.mean(_normal(np.log(claim.value_kg / kg), _CLAIM_SD_LN))
                for kg in masses.values()
            ]
            ln_likelihood += math.log(max(float(np.mean(densities)), 1e-300))
            distances = [abs(np.log(claim.value_kg / np.median(kg))) for kg in masses.values()]
            (explains if min(distances) <= 1.96 * _CLAIM_SD_LN else contradicts).append(claim.title)
    for ratio in own:
        (explains if ratio.ln_ratio > 0 else contradicts).append(ratio.title)
    n_witnesses += len({ratio.account_id for ratio in own})
    seasonal = set(states) == {"lean", "fat"}
    return HypothesisJudged(
        key=row.hypothesis_id,
        title=row.title,
        reason=row.reason,
        states=states,
        masses_kg={state: Quantity(draws=kg, unit="kg").summary() for state, kg in masses.items()},
        strength={
            state: Quantity(draws=bound.high_kg / kg, unit="1").summary()
            for state, kg in masses.items()
            if bound is not None
        },
        share_strong={
            state: None if bound is None else bound.share_inside(kg) for state, kg in masses.items()
        },
        fasting_days=(
            Quantity(draws=fasting_days, unit="d").summary()
            if seasonal and fasting_days is not None
            else None
        ),
        explains=tuple(explains),
        contradicts=tuple(contradicts),
        ln_likelihood=ln_likelihood,
        n_witnesses=n_witnesses,
        own=own,
        prior=row.prior,
    )


def _normal(departure: Draws, sd: float) -> Draws:
    return np.asarray(np.exp(-0.5 * (departure / sd) ** 2) / sd, dtype=np.float64)


def _score_density(score: float, state: str) -> float:
    from scipy.special import ndtr

    low, high = ((end - _SCORE[state]) / _SCORE_SD for end in _SCORES)
    return math.exp(-0.5 * ((score - _SCORE[state]) / _SCORE_SD) ** 2) / float(
        ndtr(high) - ndtr(low)
    )


def _posteriors(
    judged: Sequence[HypothesisJudged], ln_likelihoods: Sequence[float]
) -> list[float | None]:
    priors = [item.prior for item in judged]
    if len(judged) < 2 or any(prior is None for prior in priors):
        return [None] * len(judged)
    # In logarithms throughout: a hypothesis ruled out beforehand must not set the scale.
    ln_heights = [
        ln_likelihood + math.log(prior) if prior else -math.inf
        for ln_likelihood, prior in zip(ln_likelihoods, priors, strict=True)
    ]
    best = max(ln_heights)
    if best == -math.inf:
        return [None] * len(judged)
    heights = [math.exp(ln_height - best) for ln_height in ln_heights]
    return [height / sum(heights) for height in heights]
