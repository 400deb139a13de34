"""Tables of the skeleton's chapter: averages, errors of measuring, individuals, what next."""

from typing import TYPE_CHECKING

import numpy as np

from bonewright.quantity import Quantity, format_amount
from bonewright.report.blocks import TableBlock, TableColumn
from bonewright.report.wording import bone_words, element_rank, interval_words, range_words

if TYPE_CHECKING:
    from bonewright.pipeline import Run
    from bonewright.skeleton.fragments import FragmentLength

__all__ = [
    "average_table",
    "fragments_table",
    "from_relatives_table",
    "individuals_table",
    "measure_next_table",
    "measuring_error_table",
    "proportions_table",
]

_RANKS_SHOWN = 20


def average_table(run: "Run") -> TableBlock | None:
    """Set every average beside the plain mean of that measurement alone."""
    if run.skeleton is None:
        return None
    means = sorted(run.skeleton.means.values(), key=lambda m: (element_rank(m.element), m.code))
    if not means:
        return None
    rows, narrower = [], []
    for mean in means:
        low, high = np.quantile(mean.mean_draws_mm, [0.025, 0.975])
        plain_low, plain_high = mean.plain.interval95_mm()
        if plain_high > plain_low:
            narrower.append((high - low) / (plain_high - plain_low))
        rows.append(
            (
                bone_words((mean.element, mean.code)),
                str(mean.n_individuals),
                interval_words(Quantity(draws=mean.mean_draws_mm, unit="mm").summary(), "mm"),
                f"{100 * mean.between_sd_mm / mean.mean_mm:.1f}",
                f"{format_amount(mean.plain.mean_mm, spread=plain_high - plain_low)}"
                f" ({range_words(plain_low, plain_high)})",
                f"{100 * (mean.mean_mm / mean.plain.mean_mm - 1):+.1f}".replace("-", "−"),
            )
        )
    width = f" Half of the intervals are at most {100 * float(np.median(narrower)):.0f} % as wide."
    return TableBlock(
        caption="The average skeleton, all measurements estimated together, beside the plain mean"
        " of each measurement for itself.",
        columns=(
            TableColumn(head="Measurement", share=1.5),
            TableColumn(head="n", share=0.4, align="right"),
            TableColumn(head="Average", share=1.9),
            TableColumn(head="Individuals vary (%)", share=0.8, align="right"),
            TableColumn(head="Plain mean (mm)", share=1.6),
            TableColumn(head="Differs (%)", share=0.7, align="right"),
        ),
        rows=tuple(rows),
        notes=(
            "n: individuals that have the measurement, at most: loose bones, neither paired nor"
            " associated, may be of one animal. Intervals hold 19 times in 20. The plain"
            " mean knows nothing of what else an individual has left: it leans to the sizes of"
            " the few that have the bone." + (width if narrower else ""),
        ),
    )


def measuring_error_table(run: "Run") -> TableBlock | None:
    """Set the technical errors and reliability code by code."""
    if run.skeleton is None or not run.skeleton.measuring.by_code:
        return None
    return TableBlock(
        caption="How well the bones were measured, from repeats.",
        columns=(
            TableColumn(head="Code", share=1.0),
            TableColumn(head="Repeated", share=0.8, align="right"),
            TableColumn(head="Technical error (mm)", share=1.0, align="right"),
            TableColumn(head="Relative (%)", share=0.9, align="right"),
            TableColumn(head="Reliability", share=0.9, align="right"),
        ),
        rows=tuple(
            (
                row.code or "all codes",
                str(row.n_repeated),
                "" if row.technical_error_mm is None else format_amount(row.technical_error_mm),
                f"{row.relative_percent:.2f}",
                "" if row.reliability is None else f"{row.reliability:.3f}",
            )
            for row in run.skeleton.measuring.by_code
        ),
        notes=(
            "Repeated: measurements of one bone taken more than once. Reliability: share of the"
            " variance between bones that is not measuring (Ulijaszek and Kerr 1999).",
        ),
    )


def individuals_table(run: "Run") -> TableBlock | None:
    """Set the bones and the animals they need at least, by element and size class."""
    counts = () if run.skeleton is None else run.skeleton.individuals.counts
    if not counts:
        return None
    classed = {(count.element, count.size_class): count.minimum for count in counts}
    classes = [
        name for name in ("larger", "smaller", "unclear") if any(name == c for _, c in classed)
    ]
    return TableBlock(
        caption="Grown bones by element and side, and the animals they need at least.",
        columns=(
            TableColumn(head="Element", share=1.3),
            TableColumn(head="Left", share=0.5, align="right"),
            TableColumn(head="Right", share=0.5, align="right"),
            TableColumn(head="Other", share=0.5, align="right"),
            TableColumn(head="Known pairs", share=0.7, align="right"),
            TableColumn(head="Likely pairs", share=0.7, align="right"),
            TableColumn(head="Animals", share=0.7, align="right"),
            *(TableColumn(head=name.capitalize(), share=0.6, align="right") for name in classes),
        ),
        rows=tuple(
            (
                count.element,
                *(
                    str(number)
                    for number in (
                        count.n_left,
                        count.n_right,
                        count.n_other,
                        count.n_known_pairs,
                        count.n_likely_pairs,
                        count.minimum,
                        *(classed.get((count.element, name), 0) for name in classes),
                    )
                ),
            )
            for count in counts
            if not count.size_class
        ),
        notes=(
            "Other: bones without sides or of unknown side. Likely pairs are told by size alone"
            " and joined nowhere. A left and a right too different to be of one animal are two."
            + (
                " Larger, smaller, unclear: animals needed by the bones of each size class alone."
                if classes
                else ""
            ),
        ),
    )


def from_relatives_table(run: "Run") -> TableBlock | None:
    """Set the bones nobody has, as living relatives tell them."""
    foretold = None if run.skeleton is None else run.skeleton.from_relatives
    if foretold is None:
        return None
    return TableBlock(
        caption="Measurements that no bone has left, told by living relatives.",
        columns=(
            TableColumn(head="Measurement", share=1.6),
            TableColumn(head="Average", share=1.9),
            TableColumn(head="Relatives that have it", share=1.0, align="right"),
        ),
        rows=tuple(
            (
                bone_words(code),
                interval_words(Quantity(draws=draws, unit="mm").summary(), "mm"),
                str(foretold.n_species[code]),
            )
            for code, draws in foretold.draws_mm.items()
        ),
        notes=(
            "Intervals hold 19 times in 20 if the animal is built as its relatives are"
            + (
                f"; they are widened {foretold.unlike:.2g} times for how unlike them its known"
                " bones are"
                if foretold.unlike > 1.05
                else ""
            )
            + ". They serve the body grown from the skeleton, never the mass told from leg bones.",
        ),
    )


def fragments_table(run: "Run") -> TableBlock | None:
    """Set the lengths that broken bones had."""
    lengths = () if run.skeleton is None else run.skeleton.fragments
    if not lengths:
        return None
    return TableBlock(
        caption="Lengths that broken and weathered bones had.",
        columns=(
            TableColumn(head="Bone", share=1.2),
            TableColumn(head="Length", share=1.2),
            TableColumn(head="It was", share=1.8),
            TableColumn(head="Told from", share=2.0),
        ),
        rows=tuple(
            (
                length.specimen.specimen_id,
                bone_words(length.code),
                interval_words(Quantity(draws=length.draws_mm, unit="mm").summary(), "mm"),
                _told_from(length),
            )
            for length in lengths
        ),
        row_refs=tuple(length.specimen.ref for length in lengths),
        notes=(
            "Of bones whose other side was not measured either. The length is that of this one"
            " bone, as its measurements go together with lengths in the joint model.",
        ),
    )


def _told_from(length: "FragmentLength") -> str:
    others = f"{length.n_others} of other bones" if length.n_others else ""
    return ", ".join(part for part in (*length.own, others) if part)


def measure_next_table(run: "Run") -> TableBlock | None:
    """Set what to measure next, best first."""
    if run.measure_next is None:
        return None
    every = (*run.measure_next.in_table, *run.measure_next.further)
    items = [
        item
        for item in every
        if item.rank <= _RANKS_SHOWN or item.skeleton_rank <= _RANKS_SHOWN // 2
    ]
    if not items:
        return None
    by_mass = any(item.mass_gain is not None for item in items)
    left = len(every) - len(items)
    return TableBlock(
        caption="What to measure next: bones in the table that lack a measurement, then further"
        " specimens, the most useful first.",
        columns=(
            TableColumn(head="Bone", share=1.4),
            TableColumn(head="Measurement", share=1.6),
            TableColumn(head="Narrows the mass by (%)", share=1.0, align="right"),
            TableColumn(head="Rank by mass", share=0.6, align="right"),
            TableColumn(head="Narrows the skeleton by (%)", share=1.0, align="right"),
            TableColumn(head="Rank by skeleton", share=0.7, align="right"),
        ),
        rows=tuple(
            (
                item.specimen_id or "a further specimen",
                bone_words(item.code),
                *(
                    ("", "")
                    if item.mass_gain is None
                    else (_share_words(item.mass_gain), str(item.rank))
                ),
                _share_words(item.skeleton_gain),
                str(item.skeleton_rank),
            )
            for item in items
        ),
        row_refs=tuple(item.ref for item in items),
        notes=(
            "Shares of variance that would go: of all average ln lengths together"
            + (
                ", and of the bones' part of the mass by the chosen leg-bone equation, by which"
                " the list is ordered."
                if by_mass
                else "."
            )
            + (f" {left} more would bring less." if left else ""),
        ),
    )


def _share_words(share: float) -> str:
    """Write a share in per cent, and what is next to nothing as less than a thousandth."""
    percent = 100 * share
    return f"{percent:.2g}" if percent >= 0.001 or percent == 0 else "< 0.001"


def proportions_table(run: "Run") -> TableBlock | None:
    """Set each ratio of lengths beside those of living relatives."""
    if run.proportions is None or not run.proportions.ratios:
        return None
    rows = []
    for ratio in run.proportions.ratios:
        values = np.array([value for _, value, _ in ratio.relatives])
        below = int(np.sum(values < np.median(ratio.draws)))
        rows.append(
            (
                ratio.title,
                interval_words(Quantity(draws=ratio.draws, unit="1").summary(), "1"),
                range_words(float(values.min()), float(values.max())),
                f"{below} of {len(values)}",
            )
        )
    return TableBlock(
        caption="Proportions beside living relatives.",
        columns=(
            TableColumn(head="Ratio", share=2.2),
            TableColumn(head="Average animal", share=1.6),
            TableColumn(head="Relatives", share=1.2),
            TableColumn(head="Relatives with less", share=1.0),
        ),
        rows=tuple(rows),
        notes=("Leg: femur, tibiotarsus and tarsometatarsus, greatest lengths (GL).",),
    )
