"""What pictures, scorers and the mount amount to, as findings and plain sentences."""

from math import floor

from bonewright.findings import Caveat, Exact, Finding, HowGot, RowRef, Statement
from bonewright.testimony.agreement import Agreement
from bonewright.testimony.change_point import ChangePoint

__all__ = [
    "agreement_findings",
    "change_findings",
    "change_sentence",
    "copy_caveats",
    "name_of",
    "no_change_finding",
    "p_value",
    "which_pictures",
]

_WHY = "a statistic of the pictures as they are"


def change_sentence(change: ChangePoint, *, n_copies: int, other: ChangePoint | None) -> str:
    """Say whether fatness changes, honestly for the number of pictures.

    ``other`` is the test with all pictures, where this one is without copies.
    """
    noun = "pictures" if change.with_copies else "pictures that copy no other"
    if change.with_copies and n_copies:
        noun = f"pictures, {n_copies} of them copies"
    p = change.p_permutation
    if change.statistic == 0:
        return f"In {change.n} {noun}, scores of fatness do not differ in order of date at all."
    direction = "fatter" if change.mean_after > change.mean_before else "leaner"
    where = (
        f"between {floor(change.last_before)} and {floor(change.first_after)} (mean score"
        f" {change.mean_before:.1f} before, {change.mean_after:.1f} after)"
    )
    chance = f"scores in a random order would divide as well {_how_often(p)}"
    if p < 0.01:
        text = f"In {change.n} {noun}, the animal is shown {direction} {where}; {chance}."
    elif p < 0.05:
        text = f"In {change.n} {noun}, the animal is probably shown {direction} {where}; {chance}."
    else:
        text = (
            f"In {change.n} {noun}, no change of fatness can be told from chance: the best division"
            f" lies {where}, but {chance}."
        )
    if other is not None:
        text += _what_copies_do(p, other)
    if change.p_dates[0] < 0.05 <= change.p_dates[1]:
        text += " Which it is depends on the pictures' uncertain dates."
    return text


def _what_copies_do(p: float, with_copies: ChangePoint) -> str:
    if p >= 0.05 > with_copies.p_permutation:
        return (
            " With copies counted as witnesses it would look like a change (scores in a random"
            f" order would divide as well {_how_often(with_copies.p_permutation)}); that is"
            " copying, not seeing."
        )
    if p < 0.05 and with_copies.p_permutation < p / 2:
        return (
            " With copies counted it would look surer than it is (as well by chance"
            f" {_how_often(with_copies.p_permutation)}, without them {_how_often(p)})."
        )
    return ""


def change_findings(
    change: ChangePoint,
    *,
    n_copies: int,
    other: ChangePoint | None,
    rows: tuple[RowRef, ...],
    caveats: tuple[Caveat, ...],
    found: float | None = None,
) -> tuple[Finding, ...]:
    """Put one change-point test into findings: a sentence, K, and the p values.

    ``found`` is the share of series of so many pictures in which a change of one point
    would be found.
    """
    name, which = name_of(change.with_copies), which_pictures(change.with_copies)
    sentence = change_sentence(change, n_copies=n_copies, other=other)
    if found is not None and change.p_permutation >= 0.05:
        sentence += (
            f" So few pictures would show a change of one whole point {_tenths(found)} times in"
            " ten: that none is shown does not mean that there was none."
        )
    caveats = (*_change_caveats(change), *caveats)

    def finding(key: str, title: str, *, value: Exact | Statement, formula: str) -> Finding:
        return Finding(
            key=key,
            step="testimony",
            title=f"{title}, {which}",
            value=value,
            how=HowGot(formula=formula, rows=rows, sources=("Pettitt1979",)),
            n=change.n,
            n_of="pictures",
            caveats=caveats,
        )

    def exact(key: str, title: str, *, value: float, formula: str) -> Finding:
        return finding(
            f"testimony.{key}.{name}",
            title,
            value=Exact(value=value, unit="1", why_no_interval=_WHY),
            formula=formula,
        )

    low, high = change.p_dates
    return (
        finding(
            f"testimony.change.{name}",
            "Change of fatness over time",
            value=Statement(text=sentence),
            formula="Pettitt's test on mean scores in order of date, p from permutations",
        ),
        exact(
            "statistic",
            "Pettitt's K",
            value=change.statistic,
            formula="K = max |2 sum of the first k mid-ranks - k (n + 1)|",
        ),
        exact(
            "p_permutation",
            "Share of random orders that divide as well (p)",
            value=change.p_permutation,
            formula="(1 + permutations with K as large) / (1 + permutations)",
        ),
        exact(
            "p_formula",
            "Approximate p of Pettitt's K",
            value=change.p_formula,
            formula="2 exp(-6 K^2 / (n^3 + n^2)), at most 1",
        ),
        finding(
            f"testimony.p_dates.{name}",
            "What uncertain dates do to p",
            value=Statement(text=_dates_sentence(low, high)),
            formula="p by the formula in each draw of the dates",
        ),
    )


def no_change_finding(*, with_copies: bool, reason: str, caveats: tuple[Caveat, ...]) -> Finding:
    """Say that a change could not be tested, and why."""
    which = which_pictures(with_copies)
    return Finding(
        key=f"testimony.change.{name_of(with_copies)}",
        step="testimony",
        title=f"Change of fatness over time, {which}",
        value=Statement(text=f"Whether fatness changes over time, {which}, is open. {reason}"),
        how=HowGot(formula="Pettitt's test", sources=("Pettitt1979",)),
        caveats=caveats,
    )


def name_of(with_copies: bool) -> str:
    """Return the end of a key: which pictures a test was run on."""
    return "all" if with_copies else "independent"


def which_pictures(with_copies: bool) -> str:
    """Say which pictures a test was run on."""
    return "all pictures" if with_copies else "copies set aside"


def copy_caveats(with_copies: bool) -> tuple[Caveat, ...]:
    """Warn of tests that count copies."""
    if not with_copies:
        return ()
    return (
        Caveat(
            code="copies counted",
            text="Copies are counted as if they were witnesses; believe the test with copies set"
            " aside.",
        ),
    )


def agreement_findings(
    agreement: Agreement | None, *, rows: tuple[RowRef, ...]
) -> tuple[Finding, ...]:
    """Say how far scorers agree on one kind of score."""
    if agreement is None:
        return ()
    kind = agreement.kind
    # Fatness came first and keeps its keys.
    prefix = "testimony.scorers" if kind == "fatness" else f"testimony.scorers.{kind}"

    def exact(
        key: str,
        title: str,
        *,
        value: float,
        unit: str,
        formula: str,
        sources: tuple[str, ...] = (),
    ) -> Finding:
        return Finding(
            key=f"{prefix}.{key}",
            step="testimony",
            title=f"{title}, {kind}",
            value=Exact(
                value=value,
                unit=unit,
                why_no_interval="counts the pairs there are; scorers share the same pictures",
            ),
            how=HowGot(formula=formula, rows=rows, sources=sources),
            n=agreement.n_pairs,
            n_of=f"pairs of scores by {agreement.n_scorers} scorers",
        )

    beyond_chance = (
        (
            "kappa",
            "Weighted kappa between scorers",
            agreement.kappa,
            "1 - mean squared difference / that expected by chance, mean over pairs of scorers",
            "Cohen1968",
        ),
        (
            "alpha",
            "Krippendorff's alpha of the scorers",
            agreement.alpha,
            "1 - observed / expected disagreement, for ordered grades",
            "Krippendorff2004",
        ),
    )
    return (
        *(
            exact(key, title, value=value, unit="1", formula=formula, sources=(source,))
            for key, title, value, formula, source in beyond_chance
            if value is not None
        ),
        exact(
            "within_one_point",
            "Pairs of scores no more than one point apart",
            value=agreement.within_one_percent,
            unit="%",
            formula="share of pairs of scorers of one picture with a difference up to 1",
        ),
        exact(
            "mean_difference",
            "Mean difference between two scorers of one picture",
            value=agreement.mean_difference,
            unit="points",
            formula="mean absolute difference over pairs of scorers of one picture",
        ),
    )


def _change_caveats(change: ChangePoint) -> tuple[Caveat, ...]:
    caveats = [
        Caveat(
            code="scores are grades",
            text="Scores are grades with many ties, so the formula's p is only approximate; the"
            " permutation p stands.",
        )
    ]
    caveats += copy_caveats(change.with_copies)
    if change.n < 20:
        caveats.append(
            Caveat(
                code="few pictures",
                text=f"{change.n} pictures are few: the test finds large changes only, and its date"
                " for one is rough.",
            )
        )
    return tuple(caveats)


def _dates_sentence(low: float, high: float) -> str:
    if high - low < 0.005:
        return (
            "The pictures' dates are sure enough: drawing them from their spans leaves the"
            f" approximate p as it is ({p_value(high)})."
        )
    return (
        "With dates drawn evenly from their spans, the approximate p runs from"
        f" {low:.2g} to {high:.2g} in 95 % of draws."
    )


def _how_often(p: float) -> str:
    if p < 0.001:
        return "in fewer than 1 of 1000 cases"
    if p < 0.1:
        return f"in about 1 of {_round_count(1 / p)} cases"
    return f"in {100 * p:.0f} % of cases"


def _round_count(count: float) -> int:
    step = 10 if count >= 100 else 5 if count >= 30 else 1
    return step * round(count / step)


def _tenths(share: float) -> str:
    return "fewer than one" if share < 0.1 else f"about {round(10 * share)}"


def p_value(p: float) -> str:
    """Write a p value."""
    return "p below 0.001" if p < 0.001 else f"p = {p:.2g}"
