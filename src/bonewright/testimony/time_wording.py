"""Trend, probability of change and season, as findings and plain sentences."""

import calendar

import numpy as np

from bonewright.findings import Caveat, Exact, Finding, HowGot, RowRef, Statement
from bonewright.quantity import Quantity
from bonewright.testimony.change_probability import ChangeProbability
from bonewright.testimony.season import Season
from bonewright.testimony.trend import Trend
from bonewright.testimony.wording import copy_caveats, name_of, p_value, which_pictures

__all__ = ["probability_finding", "season_finding", "trend_findings", "untested_finding"]


def _signed(slope: float) -> str:
    # What rounds to nothing has no sign.
    return "0" if abs(slope) < 0.005 else f"{slope:+.2f}".replace("-", "\u2212")


def trend_findings(
    trend: Trend, *, rows: tuple[RowRef, ...], caveats: tuple[Caveat, ...]
) -> tuple[Finding, ...]:
    """Put a trend into findings: a sentence, the slope with its interval, Kendall's tau."""
    name, which = name_of(trend.with_copies), which_pictures(trend.with_copies)
    p = trend.p_permutation
    low, high = np.quantile(trend.slope_draws, [0.025, 0.975])
    if p < 0.05:
        direction = "fatter" if trend.kendall.s > 0 else "leaner"
        text = f"In {trend.n} pictures the animal is shown {direction} as time goes on"
    else:
        text = f"In {trend.n} pictures no steady trend of fatness can be told from chance"
    text += (
        f" ({p_value(p)}; the slope lies between {_signed(low)} and {_signed(high)} points a"
        " decade)."
    )
    how = HowGot(
        formula="Mann-Kendall's S with p from permutations; Theil and Sen's slope over the dates"
        " drawn from their spans",
        rows=rows,
        sources=("Mann1945", "Kendall1975", "Sen1968"),
    )
    kendall = trend.kendall

    def finding(key: str, title: str, value: Quantity | Exact | Statement) -> Finding:
        return Finding(
            key=f"testimony.{key}.{name}",
            step="testimony",
            title=f"{title}, {which}",
            value=value,
            how=how,
            n=trend.n,
            n_of="pictures",
            caveats=(*copy_caveats(trend.with_copies), *caveats),
        )

    return (
        finding("trend", "Trend of fatness over time", Statement(text=text.replace("-", "−"))),
        finding(
            "slope",
            "Slope of fatness over time",
            Quantity(draws=trend.slope_draws, unit="points per decade"),
        ),
        finding(
            "tau",
            "Kendall's rank correlation of fatness with date",
            Exact(
                value=kendall.tau_b,
                unit="1",
                why_no_interval="a statistic of the pictures as they are"
                f" (S = {kendall.s:.0f}, z = {kendall.z:.2f})",
            ),
        ),
    )


def probability_finding(
    change: ChangeProbability, *, rows: tuple[RowRef, ...], caveats: tuple[Caveat, ...]
) -> Finding:
    """Say how probable one change is, and when and how large it was if there was one."""
    first, last = np.quantile(change.year_draws, [0.025, 0.975])
    step_low, step, step_high = np.quantile(change.step_draws, [0.025, 0.5, 0.975])
    percent = 100 * change.probability
    chance = "more than 99" if percent > 99 else "less than 1" if percent < 1 else f"{percent:.0f}"
    text = (
        f"Taking a change and none for equally probable before looking, {change.n} pictures leave"
        f" a change of fatness a probability of {chance} %. If there was one, it fell between"
        f" {first:.0f} and {last:.0f} and was a step of {step:+.1f} points ({step_low:+.1f} to"
        f" {step_high:+.1f})."
    )
    return Finding(
        key=f"testimony.change_probability.{name_of(change.with_copies)}",
        step="testimony",
        title=f"Probability of a change of fatness, {which_pictures(change.with_copies)}",
        value=Statement(text=text.replace("-", "−")),
        how=HowGot(
            formula="marginal likelihood of two levels over that of one, averaged over the year of"
            " change and over dates drawn from their spans",
            rows=rows,
            sources=("Smith1975", "Gelman2013"),
        ),
        n=change.n,
        n_of="pictures",
        caveats=(*copy_caveats(change.with_copies), *caveats),
    )


def season_finding(
    season: Season, *, rows: tuple[RowRef, ...], caveats: tuple[Caveat, ...]
) -> Finding:
    """Say whether date in the year foretells fatness better than date in the century."""
    errors = {
        "the date in the year": season.by_season,
        "the date in the century": season.by_century,
        "neither (their mean)": season.by_mean,
    }
    best = min(errors, key=lambda name: errors[name])
    others = "; ".join(f"{error:.2f} by {name}" for name, error in errors.items() if name != best)
    text = (
        f"Of {season.n} pictures dated to a season, {best} foretells fatness best: a picture left"
        f" out is missed by {errors[best]:.2f} points, against {others}."
    )
    if best == "the date in the year":
        text += (
            f" Fattest about {calendar.month_name[season.fattest_month]}, by"
            f" {season.swing:.1f} points between the extremes; scores in a random order would"
            f" follow the year as well with {p_value(season.p_season)}."
        )
    few = Caveat(
        code="few dated pictures",
        text=f"{season.n} pictures dated to a season are few, and a picture's date may be that of"
        " its finishing, not of the sitting.",
    )
    return Finding(
        key=f"testimony.season.{name_of(season.with_copies)}",
        step="testimony",
        title=f"Season or century, {which_pictures(season.with_copies)}",
        value=Statement(text=text),
        how=HowGot(
            formula="error of scores left out one at a time, from their mean, a line over the"
            " years, and a yearly wave",
            rows=rows,
            sources=("Allen1974",),
        ),
        n=season.n,
        n_of="pictures dated to a season",
        caveats=(few, *copy_caveats(season.with_copies), *caveats),
    )


def untested_finding(*, with_copies: bool, reason: str, caveats: tuple[Caveat, ...]) -> Finding:
    """Say that season and century could not be compared, and why."""
    return Finding(
        key=f"testimony.season.{name_of(with_copies)}",
        step="testimony",
        title=f"Season or century, {which_pictures(with_copies)}",
        value=Statement(text=f"Whether season explains fatness is open. {reason}"),
        how=HowGot(formula="error of scores left out one at a time", sources=("Allen1974",)),
        caveats=caveats,
    )
