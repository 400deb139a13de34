"""What a person holds claims to be worth for a hypothesis, counted once a witness.

A likelihood ratio that a person enters beside a claim is a judgement, not a computation. Where
it names a rival hypothesis it bears on that hypothesis' odds, beside the pictures and weights
that are held against it by rule. Two things would count one witness twice: a copy, which only
repeats its model, and several claims of one account. So copies are left out, and an account is
heard once for a hypothesis in either direction: by its strongest claim for it and its
strongest against.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from bonewright.findings import Finding, HowGot, Statement
from bonewright.study.model import Hypothesis

__all__ = [
    "OwnRatio",
    "heard_once",
    "names_hypothesis",
    "own_ratios_finding",
    "product_words",
    "weighed_by_hand",
]

_WRITTEN_IN_FULL = (1e-3, 1e4)


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnRatio:
    """A likelihood ratio that a person entered beside a claim.

    The claim is ``ratio`` times likelier if ``speaks_for`` is true than if it is false.
    """

    claim_id: str
    account_id: str
    account_title: str
    statement: str
    ratio: float
    speaks_for: str
    is_copy: bool

    @property
    def ln_ratio(self) -> float:
        """Return the natural logarithm of the ratio."""
        return math.log(self.ratio)

    @property
    def title(self) -> str:
        """Name the claim as the hypotheses' witnesses are named."""
        return f"{self.account_title} ('{self.statement}')"


def names_hypothesis(speaks_for: str, hypothesis: Hypothesis) -> bool:
    """Say whether words name a hypothesis: its title or its ID, in letters of any size."""
    words = " ".join(speaks_for.split()).casefold()
    names = (hypothesis.title, hypothesis.hypothesis_id)
    return words in {" ".join(name.split()).casefold() for name in names}


def heard_once(ratios: Iterable[OwnRatio]) -> tuple[OwnRatio, ...]:
    """Return the ratios that count, of claims that speak for one and the same statement.

    Copies fall out, and of the claims of one account only the strongest for and the strongest
    against are left.
    """
    heard: dict[tuple[str, bool], OwnRatio] = {}
    for ratio in ratios:
        side = (ratio.account_id, ratio.ln_ratio > 0)
        stronger = side not in heard or abs(ratio.ln_ratio) > abs(heard[side].ln_ratio)
        if stronger and not ratio.is_copy and ratio.ln_ratio != 0:
            heard[side] = ratio
    return tuple(heard.values())


def weighed_by_hand(ratios: Sequence[OwnRatio], hypotheses: Sequence[Hypothesis]) -> frozenset[str]:
    """Return the accounts that a person has weighed for some hypothesis, by ID.

    The weights they claim are not held against the hypotheses by rule as well.
    """
    return frozenset(
        ratio.account_id
        for row in hypotheses
        for ratio in heard_once(r for r in ratios if names_hypothesis(r.speaks_for, row))
    )


def product_words(ln_ratio: float) -> str:
    """Write how many times ratios multiply odds, '6.4' or '10^5'."""
    low, high = map(math.log, _WRITTEN_IN_FULL)
    if low <= ln_ratio <= high:
        return f"{math.exp(ln_ratio):.3g}"
    return f"10^{ln_ratio / math.log(10):.0f}"


def own_ratios_finding(
    ratios: Sequence[OwnRatio], hypotheses: Sequence[Hypothesis]
) -> Finding | None:
    """Say what the person's own ratios multiply to, statement by statement, and where they go."""
    if not ratios:
        return None
    groups: dict[str, list[OwnRatio]] = {}
    for ratio in ratios:
        groups.setdefault(_named(ratio.speaks_for, hypotheses), []).append(ratio)
    titles = {row.title for row in hypotheses}
    priors = len(hypotheses) > 1 and all(row.prior is not None for row in hypotheses)
    sentences = []
    for name, group in groups.items():
        heard = heard_once(group)
        left_out = len(group) - len(heard)
        count = len({ratio.account_id for ratio in heard})
        words = (
            f"'{name}': the odds times {product_words(sum(ratio.ln_ratio for ratio in heard))}"
            f" by {count} independent account{'' if count == 1 else 's'}"
            if heard
            else f"'{name}': no independent account speaks for or against it"
        )
        if left_out:
            words += f" ({left_out} not counted: a copy, a weaker claim of the same account, or 1)"
        if name not in titles:
            words += "; no hypothesis is named so, so this enters no other result"
        elif not priors:
            words += "; without a prior of every hypothesis it enters no odds"
        sentences.append(f"{words}.")
    return Finding(
        key="judgement.own_ratios",
        step="judgement",
        title="What you hold claims to be worth, witness by witness",
        value=Statement(
            text="By your own likelihood ratios, entered and not computed: " + " ".join(sentences)
        ),
        how=HowGot(
            formula="product over accounts that copy no other, each heard by its strongest claim"
            " for and its strongest against",
            inputs=tuple(f"testimony.likelihood.{ratio.claim_id}" for ratio in ratios),
        ),
        n=len({ratio.account_id for ratio in ratios if not ratio.is_copy}),
        n_of="independent accounts",
    )


def _named(speaks_for: str, hypotheses: Sequence[Hypothesis]) -> str:
    for row in hypotheses:
        if names_hypothesis(speaks_for, row):
            return row.title
    return " ".join(speaks_for.split())
