"""Pairs and counts of animals, as findings."""

from bonewright.findings import Caveat, Exact, Finding, HowGot, Statement
from bonewright.skeleton.individuals import Individuals

__all__ = ["individual_findings"]


def individual_findings(individuals: Individuals) -> tuple[Finding, ...]:
    """Describe the fewest animals that pairing by size allows, and the likely pairs."""
    whole = [count for count in individuals.counts if not count.size_class]
    if not whole:
        return ()
    most = max(whole, key=lambda count: count.minimum)
    classed: dict[str, int] = {}
    for count in individuals.counts:
        if count.size_class in ("larger", "smaller"):
            classed[count.size_class] = max(classed.get(count.size_class, 0), count.minimum)
    likely = ", ".join(
        f"{pair.left.specimen.specimen_id} with {pair.right.specimen.specimen_id}"
        f" ({pair.element}, {100 * pair.probability:.0f} %)"
        for pair in individuals.pairs
    )
    text = (
        f"{individuals.n_named} named individual{'' if individuals.n_named == 1 else 's'},"
        f" {individuals.n_associated} of them with bones of more than one element. By size, at"
        f" least {most.minimum} animal{'' if most.minimum == 1 else 's'}, as {most.element}"
        " demands."
    )
    if classed:
        text += (
            f" Of the larger size at least {classed.get('larger', 0)}, of the smaller at least"
            f" {classed.get('smaller', 0)}."
        )
    pairs_text = (
        f"Probably left and right of one animal: {likely}."
        if likely
        else "No loose left and right are more likely of one animal than of two."
    )
    how = HowGot(
        formula=(
            "ln odds of one animal against two from the size difference of a left and a right"
            " (asymmetry 0.6 %, common practice, and error of measuring) against how animals"
            " differ; probability over all pairings of the element's bones"
        ),
        rows=tuple(
            bone.specimen.ref for pair in individuals.pairs for bone in (pair.left, pair.right)
        ),
        sources=("White1953",),
    )
    caveats: tuple[Caveat, ...] = ()
    if individuals.pairs:
        advice = (
            "Nothing is joined by itself: look at both bones, and if they are of one bird give"
            " them one organismID in specimens.csv."
        )
        caveats = (Caveat(code="likely pairs", text=advice),)
    return (
        Finding(
            key="skeleton.individuals",
            step="skeleton",
            title="Individuals",
            value=Statement(text=text),
            how=how,
        ),
        Finding(
            key="skeleton.individuals.by_size",
            step="skeleton",
            title="Fewest animals by pairing of sizes",
            value=Exact(
                value=float(most.minimum), unit="1", why_no_interval="It is a least count."
            ),
            how=how,
            n=most.n_left + most.n_right + most.n_other,
            n_of=f"{most.element} bones",
        ),
        Finding(
            key="skeleton.pairs",
            step="skeleton",
            title="Likely pairs of left and right",
            value=Statement(text=pairs_text),
            how=how,
            n=len(individuals.pairs),
            n_of="pairs",
            caveats=caveats,
        ),
    )
