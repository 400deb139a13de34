"""Tables of the judgement: ways to pool, each line's standing, what would overturn it."""

from collections.abc import Mapping
from typing import TYPE_CHECKING

from bonewright.findings import Finding, Statement
from bonewright.judgement.hypotheses import HypothesisJudged
from bonewright.judgement.options import PoolingOption
from bonewright.judgement.own_ratios import product_words
from bonewright.quantity import Summary, format_amount
from bonewright.report.blocks import TableBlock, TableColumn
from bonewright.report.wording import interval_words

if TYPE_CHECKING:
    from bonewright.pipeline import Run

__all__ = [
    "all_options",
    "hypotheses",
    "next_evidence",
    "overturns",
    "pooling_options",
    "standings",
]


def all_options(run: "Run") -> tuple[PoolingOption, ...]:
    """Return every way to pool that the run holds, the verdict's first."""
    if run.pooled is None:
        return ()
    bounded = () if run.case is None or run.case.bounded is None else (run.case.bounded,)
    return (*run.pooled.options, *bounded)


def _kg(value: float, spread: float) -> str:
    if value > 1e4:
        return "beyond any animal"
    if value < 0.001:
        return "next to nothing"
    return format_amount(value, spread=spread)


def pooling_options(run: "Run") -> TableBlock | None:
    """Set every way to pool beside the verdict's."""
    options = all_options(run)
    if not options:
        return None
    rows = []
    for option in options:
        spread = min(options[0].high_kg - options[0].low_kg, option.middle_kg)
        middle, low, high = (
            _kg(value, spread) for value in (option.middle_kg, option.low_kg, option.high_kg)
        )
        rows.append(
            (
                option.title + (" (the verdict)" if option.default else ""),
                f"{middle} ({low} to {high})",
                "–" if option.tau_ln is None else f"{option.tau_ln:.2f}",
                option.argument,
            )
        )
    return TableBlock(
        caption="The same lines pooled in every defensible way.",
        columns=(
            TableColumn(head="Way to pool", share=1.9),
            TableColumn(head="Mass (kg)", share=1.2),
            TableColumn(head="Spread (ln)", share=0.6, align="right"),
            TableColumn(head="For and against", share=2.9),
        ),
        rows=tuple(rows),
        notes=(
            "Spread: how far methods differ beyond their stated uncertainty, one standard"
            " deviation in natural logarithms, as that way takes or finds it." + _spread_words(run),
        ),
    )


def _spread_words(run: "Run") -> str:
    if run.pooled is None or run.pooled.tau_interval_ln is None:
        return ""
    low, high = run.pooled.tau_interval_ln
    return (
        f" By the lines alone it lies between {low:.2f} and {high:.2f} (95 %, by the profile of Q)."
    )


def _words(run: "Run", key: str) -> str:
    found: dict[str, Finding] = {finding.key: finding for finding in run.findings}
    value = found[key].value if key in found else None
    return value.text if isinstance(value, Statement) else ""


def standings(run: "Run") -> TableBlock | None:
    """Say of each pooled line how it stands to the others."""
    if run.pooled is None or not run.pooled.without:
        return None
    lines = [line for line in run.pooled.lines if line.pooled]
    return TableBlock(
        caption="How each line stands to the others.",
        columns=(
            TableColumn(head="Line", share=1.6),
            TableColumn(head="Chance to be gravely wrong", share=0.9, align="right"),
            TableColumn(head="In words", share=3.6),
        ),
        rows=tuple(
            (
                line.title,
                f"{run.pooled.wrong_percent.get(line.key, 0.0):.0f} %",
                _words(run, f"judgement.stand.{line.key}"),
            )
            for line in lines
        ),
        notes=(
            "The chance follows from the choice gravely_wrong_percent and from what all lines say;"
            " with two lines it says nothing, for there is no telling which is wrong.",
        ),
    )


def overturns(run: "Run") -> TableBlock | None:
    """Say what each line would have to give to overturn the verdict."""
    if run.case is None or not run.case.overturns:
        return None

    def kg(value: float | None) -> str:
        return "no result" if value is None else format_amount(value, spread=value)

    flips = run.case.flips_at_kg is not None
    return TableBlock(
        caption="What each line alone would have to say to overturn the verdict (kg).",
        columns=(
            TableColumn(head="Line", share=2.0),
            TableColumn(head="Says now", share=0.8, align="right"),
            TableColumn(head="To press it below its interval", share=1.1, align="right"),
            TableColumn(head="To lift it above", share=1.0, align="right"),
            *((TableColumn(head="To turn the legs' answer", share=1.1, align="right"),) * flips),
        ),
        rows=tuple(
            (
                item.title,
                kg(item.says_kg),
                kg(item.below_kg),
                kg(item.above_kg),
                *((kg(item.flips_kg),) if flips else ()),
            )
            for item in run.case.overturns
        ),
        notes=(
            "Pooled again with this line's middle moved, its uncertainty kept and the others as"
            " they are. 'No result': not even thirty times more or less would do it.",
        ),
    )


def next_evidence(run: "Run") -> TableBlock | None:
    """Rank what could be measured next."""
    if run.case is None:
        return None
    return TableBlock(
        caption="What to do next, by how much it is expected to narrow the verdict's interval.",
        columns=(
            TableColumn(head="Work", share=4.0),
            TableColumn(head="Narrower by", share=0.8, align="right"),
        ),
        rows=tuple(
            (
                item.action[:1].upper() + item.action[1:],
                f"{item.narrower_percent:.0f} %" if item.narrower_percent >= 1 else "under 1 %",
            )
            for item in run.case.next_evidence[:8]
        ),
    )


def hypotheses(run: "Run") -> TableBlock | None:
    """Set the rival hypotheses side by side."""
    if run.case is None or not run.case.hypotheses:
        return None
    judged = run.case.hypotheses
    own = any(item.own for item in judged)
    against = [
        f"Against '{item.title}': {'; '.join(item.contradicts[:6])}"
        + (f" and {len(item.contradicts) - 6} more." if len(item.contradicts) > 6 else ".")
        for item in judged
        if item.contradicts
    ]
    return TableBlock(
        caption="Rival hypotheses of its condition over the year, side by side.",
        columns=(
            TableColumn(head="Hypothesis", share=1.2),
            TableColumn(head="Mass (kg)", share=1.3),
            TableColumn(head="Strength of its legs", share=1.3),
            TableColumn(head="Legs suit the question", share=0.9),
            TableColumn(head="Fasting (days)", share=0.8),
            TableColumn(head="Witnesses explained", share=0.9, align="right"),
            TableColumn(head="Before", share=0.7, align="right"),
            *((TableColumn(head="By pictures and weights", share=0.9, align="right"),) * own),
            *((TableColumn(head="Your ratios", share=0.7, align="right"),) * own),
            TableColumn(head="After", share=0.7, align="right"),
        ),
        rows=tuple(_hypothesis_row(item, own=own) for item in judged),
        notes=(
            "Strength: how many times as strong its legs are, for the weight they carry, as those"
            " of the weakest animal compared; suit the question: share of the imagined worlds in"
            " which every leg bone lies within their range. Witnesses: pictures scored for fatness,"
            " weights claimed and claims that you weighed, copies left out. A picture is explained"
            " if its score lies within a point of a season's middle score (lean 1.5, mean 3, fat"
            " 4.5), a weight if it lies within a factor of two of a season's mass. Before and"
            " after: how likely the study's authors held it, and how likely the witnesses leave it"
            " among these hypotheses."
            + (
                " Your ratios: the product of the likelihood ratios you entered beside claims that"
                " name it, one account heard once; the weights such accounts claim are not counted"
                " again."
                if own
                else ""
            ),
            *against,
        ),
    )


def _hypothesis_row(item: HypothesisJudged, *, own: bool) -> tuple[str, ...]:
    total = len(item.explains) + len(item.contradicts)
    by_rule = "–" if item.posterior_without_own is None else _percent(item.posterior_without_own)
    return (
        item.title,
        _by_state(item.masses_kg) or "–",
        _by_state(item.strength) or "–",
        "; ".join(
            f"{state}: {100 * share:.0f} %"
            for state, share in item.share_strong.items()
            if share is not None
        )
        or "–",
        "–" if item.fasting_days is None else _short(item.fasting_days),
        f"{len(item.explains)} of {total}",
        "–" if item.prior is None else f"{100 * item.prior:.0f} %",
        *((by_rule, f"× {product_words(item.ln_own)}") if own else ()),
        "–" if item.posterior is None else _percent(item.posterior),
    )


def _by_state(summaries: Mapping[str, Summary]) -> str:
    return "; ".join(f"{state}: {_short(summary)}" for state, summary in summaries.items())


def _short(summary: Summary) -> str:
    return interval_words(summary, "").removeprefix("about ")


def _percent(share: float) -> str:
    if share < 0.01:
        return "under 1 %"
    return "over 99 %" if share > 0.99 else f"{100 * share:.0f} %"
