"""Clash, influence and the ways to pool as findings."""

from collections.abc import Mapping, Sequence

import numpy as np

from bonewright.findings import Caveat, Exact, Finding, HowGot, Statement
from bonewright.judgement.lines import Line, share_as_far_apart
from bonewright.judgement.mixture import named_above
from bonewright.judgement.options import PoolingOption
from bonewright.quantity import Draws, Quantity, format_amount, format_interval

__all__ = ["clash_findings", "influence_half_widths", "option_findings"]


def influence_half_widths(mass_kg: Draws, without_kg: Draws) -> float:
    """Return how far a line pulls the verdict, in halves of the verdict's 95 % interval.

    Above 0 the line makes the animal heavier. Measured on ln mass, all against all but one.
    """
    low, middle, high = np.log(np.quantile(mass_kg, [0.025, 0.5, 0.975]))
    return float((middle - np.log(np.median(without_kg))) / ((high - low) / 2))


def clash_findings(
    pooled: Sequence[Line],
    *,
    mass_kg: Draws,
    without_kg: Mapping[str, Draws],
    wrong_percent: Mapping[str, float],
    wrong_share: float,
) -> tuple[Finding, ...]:
    """Say of every line how it stands to the others, and of every pair whether they clash.

    Parameters
    ----------
    pooled : sequence of Line
        The lines that enter the verdict; with a single one there is nothing to say.
    mass_kg : (n_draws,) float
        The verdict; ``without_kg`` has it without each line.
    wrong_percent : mapping of key to float
        Chance of each line to be gravely wrong, after looking; ``wrong_share`` before.
    """
    if len(pooled) < 2:
        return ()
    findings = [
        _how_it_stands(
            line,
            [other for other in pooled if other is not line],
            mass_kg=mass_kg,
            without_kg=without_kg[line.key],
            wrong_percent=wrong_percent[line.key],
            wrong_share=wrong_share,
        )
        for line in pooled
    ]
    findings += [
        _pair(first, second) for place, first in enumerate(pooled) for second in pooled[place + 1 :]
    ]
    return tuple(findings)


def _how_it_stands(
    line: Line,
    others: Sequence[Line],
    *,
    mass_kg: Draws,
    without_kg: Draws,
    wrong_percent: float,
    wrong_share: float,
) -> Finding:
    pull = influence_half_widths(mass_kg, without_kg)
    without = format_interval(Quantity(draws=without_kg, unit="kg").summary(), "kg")
    share = share_as_far_apart(line.mass_draws_kg, without_kg)
    if abs(pull) < 0.1:
        moves = "hardly moves the verdict"
    else:
        moves = (
            f"makes the verdict {'heavier' if pull > 0 else 'lighter'} by"
            f" {100 * abs(pull):.0f} % of half its interval"
        )
    named = len(others) > 1 and wrong_percent / 100 > named_above(wrong_share)
    words = f"It {moves}; without it the others give {without}."
    if named:
        words += (
            f" It fits the others worst: the chance that it is gravely wrong is {wrong_percent:.0f}"
            f" %, from {100 * wrong_share:.0f} % before looking. It still counts: setting it aside"
            " takes a row with a reason in line_decisions.csv."
        )
    elif share < 0.05:
        words += " It disagrees with the rest, which cannot say which of them is wrong."
    else:
        words += " It agrees with the rest."
    return Finding(
        key=f"judgement.stand.{line.key}",
        step="judgement",
        title=f"How this line stands to the others: {line.title}",
        value=Statement(text=words),
        how=HowGot(
            formula="pooled without it; chance to be gravely wrong from the heavy-tailed pool,"
            " named where its odds have risen fivefold",
            inputs=(
                line.key,
                f"judgement.without.{line.key}",
                "judgement.mass",
                "choices.gravely_wrong_percent",
            ),
            sources=("BoxTiao1968",),
        ),
        n=len(others) + 1,
        n_of="lines of evidence",
        caveats=(
            (
                Caveat(
                    code="line out of step",
                    text=f"{line.title} fits the other lines badly ({wrong_percent:.0f} % likely to"
                    " be gravely wrong).",
                ),
            )
            if named
            else ()
        ),
    )


def _pair(first: Line, second: Line) -> Finding:
    return Finding(
        key=f"judgement.pair.{first.key}.{second.key}",
        step="judgement",
        title=f"Chance to be as far apart, if both are right: {first.title} and {second.title}",
        value=Exact(
            value=100 * share_as_far_apart(first.mass_draws_kg, second.mass_draws_kg),
            unit="%",
            why_no_interval="a share of the imagined worlds",
        ),
        how=HowGot(
            formula="two-sided share of draws in which the lesser mass is the greater; what the"
            " two share cancels; below 5 % they clash",
            inputs=(first.key, second.key),
        ),
        n=2,
        n_of="lines of evidence",
    )


_OPTION_SOURCES = {
    "half_normal": ("Gelman2006",),
    "heavy_tailed": ("Gelman2006", "BoxTiao1968"),
    "birge": ("Birge1932",),
    "dersimonian_laird": ("DerSimonianLaird1986",),
    "paule_mandel": ("PauleMandel1982",),
    "reml": ("Viechtbauer2005", "KnappHartung2003"),
}


def option_findings(
    options: Sequence[PoolingOption], *, keys: tuple[str, ...]
) -> tuple[Finding, ...]:
    """Put each way to pool into a finding in words, its interval in them."""
    return tuple(
        Finding(
            key=f"judgement.option.{option.key}",
            step="judgement",
            title=f"Pooled another way: {option.title}"
            if not option.default
            else f"Pooled as in the verdict: {option.title}",
            value=Statement(
                text=f"about {_kg(option.middle_kg, option)} kg ({_kg(option.low_kg, option)} to"
                f" {_kg(option.high_kg, option)})."
                f" {option.argument}"
            ),
            how=HowGot(
                formula="see the title",
                inputs=keys,
                sources=_OPTION_SOURCES.get(option.key, ()),
            ),
            n=len(keys),
            n_of="lines of evidence",
        )
        for option in options
    )


def _kg(value: float, option: PoolingOption) -> str:
    if value > 1e4:
        return "beyond any animal"
    if value < 0.001:
        return "next to nothing"
    spread = option.high_kg - option.low_kg
    return format_amount(value, spread=min(spread, option.middle_kg))
