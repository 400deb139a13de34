"""How well the bones were measured, as findings."""

from bonewright.findings import Caveat, Exact, Finding, HowGot, RowRef, Statement
from bonewright.skeleton.measuring_error import Bias, MeasuringError

__all__ = ["bias_words", "error_findings"]

_WHY = "It is an error itself; it is carried into every interval of the average skeleton."
_FORMULA = (
    "square root of the summed squares within repeats over their degrees of freedom, each"
    " repeat in percent of its bone's mean"
)


def error_findings(measuring: MeasuringError, rows: tuple[RowRef, ...]) -> tuple[Finding, ...]:
    """Describe the technical errors, the reliability and what observers differ by.

    ``rows`` are the repeated measurements.
    """
    how = HowGot(formula=_FORMULA, rows=rows, sources=("UlijaszekKerr1999",))
    if measuring.total_percent is None:
        text = (
            "No bone was measured twice, so the error of measuring is not known. Measure ten"
            " bones again on another day, without looking at the first values."
        )
        return (
            _finding(
                "measurement_error",
                "Technical error of measurement, relative to the mean",
                Statement(text=text),
                how=how,
                n=0,
            ),
        )
    findings = [
        _finding(
            f"measurement_error{suffix}",
            f"Technical error of measurement{words}, relative to the mean",
            Exact(value=percent, unit="%", why_no_interval=_WHY),
            how=how,
            n=n,
        )
        for suffix, words, percent, n in (
            ("", "", measuring.total_percent, measuring.n_repeated),
            (".within", " within observers", measuring.within_percent, measuring.n_within),
            (".between", " between observers", measuring.between_percent, measuring.n_between),
            (
                ".instruments",
                " between instruments",
                measuring.instruments_percent,
                measuring.n_instruments,
            ),
        )
        if percent is not None
    ]
    if measuring.reliability is not None:
        findings.append(
            _finding(
                "reliability",
                "Reliability of the measurements",
                Exact(
                    value=measuring.reliability,
                    unit="1",
                    why_no_interval="It describes this study's repeats.",
                ),
                how=HowGot(
                    formula="1 - squared technical error / variance between bones, over all codes",
                    rows=rows,
                    sources=("UlijaszekKerr1999",),
                ),
                n=measuring.n_repeated,
            )
        )
    if measuring.biases:
        findings.append(_bias_finding(measuring.biases, rows))
    return tuple(findings)


def bias_words(bias: Bias) -> str:
    """Say how much more or less one observer (or instrument) reads than another."""
    more = "more" if bias.percent > 0 else "less"
    low, high = sorted((abs(bias.low_percent), abs(bias.high_percent)))
    return (
        f"{bias.first} reads {abs(bias.percent):.2f} % {more} than {bias.second}"
        f" ({low:.2f} to {high:.2f} %, {bias.n_shared} measurements)"
    )


def _bias_finding(biases: tuple[Bias, ...], rows: tuple[RowRef, ...]) -> Finding:
    flagged = [bias for bias in biases if bias.flagged]
    caveats: tuple[Caveat, ...] = ()
    if flagged:
        text = "; ".join(bias_words(bias) for bias in flagged) + "."
        advice = (
            "Readings are not corrected for it. Let the two measure the same ten bones together"
            " and agree on where the callipers go."
        )
        caveats = (Caveat(code="observers differ", text=advice),)
    else:
        text = (
            f"No bias that chance would not make, in {len(biases)} comparisons of observers or"
            " instruments on bones that both measured."
        )
    return _finding(
        "bias",
        "Bias between observers and between instruments",
        Statement(text=text),
        how=HowGot(
            formula=(
                "mean difference of ln readings on shared bones, with a t interval; named where"
                " chance is below 5 % over all comparisons and the size at least 0.2 %"
            ),
            rows=rows,
            sources=("UlijaszekKerr1999",),
        ),
        n=len(biases),
        n_of="comparisons",
        caveats=caveats,
    )


def _finding(
    name: str,
    title: str,
    value: Exact | Statement,
    *,
    how: HowGot,
    n: int,
    n_of: str = "repeated measurements",
    caveats: tuple[Caveat, ...] = (),
) -> Finding:
    return Finding(
        key=f"skeleton.{name}",
        step="skeleton",
        title=title,
        value=value,
        how=how,
        n=n,
        n_of=n_of,
        caveats=caveats,
    )
