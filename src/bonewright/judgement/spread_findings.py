"""How far the lines differ beyond their stated uncertainty, as findings."""

import math
from dataclasses import dataclass

from bonewright.findings import Exact, Finding, HowGot, Statement
from bonewright.quantity import Draws, format_amount

__all__ = ["Heterogeneity", "spread_findings"]

# Source and formula of each statistic; Q itself is a weighted sum of squares.
_SOURCES = {
    "i_squared": ("HigginsThompson2002",),
    "birge_ratio": ("Birge1932",),
    "paule_mandel": ("PauleMandel1982",),
    "dersimonian_laird": ("DerSimonianLaird1986",),
    "q_profile": ("Viechtbauer2007",),
}
# Beyond a factor of a thousand between methods the lines say nothing of how far they differ.
_NO_END_LN = math.log(1000)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Heterogeneity:
    """How far the pooled lines differ beyond their stated uncertainty.

    ``tau_ln`` (n_draws,) are draws of the standard deviation between lines; the statistics
    are 0 (p: 1) where there is a single line. ``paule_mandel_ln`` and ``dersimonian_laird_ln``
    estimate tau without a prior, the second as if the lines shared nothing;
    ``q_profile_ln`` are the ends of 95 % for it, None where there is a single line.
    """

    tau_ln: Draws
    q_statistic: float
    q_p_value: float
    i_squared_percent: float
    birge_ratio: float
    paule_mandel_ln: float
    dersimonian_laird_ln: float
    q_profile_ln: tuple[float, float] | None


def spread_findings(
    heterogeneity: Heterogeneity, keys: tuple[str, ...], *, n: int
) -> tuple[Finding, ...]:
    """Put the statistics of two or more lines into findings; ``keys`` are those of the lines."""
    profile = _by_the_lines_alone(heterogeneity, keys, n=n)
    return (*_statistics(heterogeneity, keys, n=n), *(() if profile is None else (profile,)))


def _statistics(heterogeneity: Heterogeneity, keys: tuple[str, ...], *, n: int) -> list[Finding]:
    why = "a statistic of the lines as they are"
    rows = (
        ("q", "Weighted squares of departures (Q)", heterogeneity.q_statistic, "1"),
        (
            "q_p_value",
            "Chance of so large a Q by stated uncertainty alone",
            heterogeneity.q_p_value,
            "1",
        ),
        (
            "i_squared",
            "Share of Q beyond stated uncertainty (I squared)",
            heterogeneity.i_squared_percent,
            "%",
        ),
        (
            "birge_ratio",
            "Ratio of external to stated uncertainty (Birge)",
            heterogeneity.birge_ratio,
            "1",
        ),
        (
            "paule_mandel",
            "How much methods differ, by the lines alone (Paule and Mandel)",
            100 * math.expm1(heterogeneity.paule_mandel_ln),
            "%",
        ),
        (
            "dersimonian_laird",
            "How much methods differ, by the lines alone and as if they shared nothing"
            " (DerSimonian and Laird)",
            100 * math.expm1(heterogeneity.dersimonian_laird_ln),
            "%",
        ),
    )
    formulas = {
        "paule_mandel": "100 (exp(tau) - 1), tau bringing Q down to k - 1",
        "dersimonian_laird": "100 (exp(tau) - 1), tau^2 = (Q - k + 1) / (sum w - sum w^2 / sum w)",
        "q": "(y - mu)' V^-1 (y - mu)",
        "q_p_value": f"upper tail of chi-square with {n - 1} degrees of freedom",
        "i_squared": "100 max(0, (Q - (k - 1)) / Q)",
        "birge_ratio": "sqrt(Q / (k - 1))",
    }
    return [
        _finding(
            name,
            title,
            value=Exact(value=value, unit=unit, why_no_interval=why),
            formula=formulas[name],
            inputs=keys,
            n=n,
        )
        for name, title, value, unit in rows
    ]


def _by_the_lines_alone(
    heterogeneity: Heterogeneity, keys: tuple[str, ...], *, n: int
) -> Finding | None:
    if heterogeneity.q_profile_ln is None:
        return None
    low, high = heterogeneity.q_profile_ln
    if low >= _NO_END_LN:
        ends = "by a factor of a thousand or more"
    elif high >= _NO_END_LN:
        ends = f"by {_percent_of(low)} % or any amount more"
    else:
        ends = f"by {_percent_of(low)} to {_percent_of(high)} %"
    return _finding(
        "q_profile",
        "How much methods may differ, by the lines alone (95 %, profile of Q)",
        value=Statement(
            text=f"By what the {n} lines say, and no prior, methods differ {ends} beyond their"
            " stated uncertainty (one standard deviation)."
        ),
        formula="100 (exp(tau) - 1) at the tau where Q meets the 2.5 and 97.5 % quantiles of"
        f" chi-square with {n - 1} degrees of freedom",
        inputs=keys,
        n=n,
    )


def _percent_of(tau_ln: float) -> str:
    return format_amount(100 * math.expm1(tau_ln))


def _finding(
    name: str,
    title: str,
    *,
    value: Exact | Statement,
    formula: str,
    inputs: tuple[str, ...],
    n: int,
) -> Finding:
    return Finding(
        key=f"judgement.{name}",
        step="judgement",
        title=title,
        value=value,
        how=HowGot(formula=formula, inputs=inputs, sources=_SOURCES.get(name, ())),
        n=n,
        n_of="lines of evidence",
    )
