"""Parts that do not fossilise, from their proportion in living relatives."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from bonewright.body.decisions import Places, decision_on
from bonewright.findings import Caveat, Doubt, Finding, HowGot, RowRef
from bonewright.quantity import Draws, Quantity
from bonewright.study.model import LostPart

__all__ = ["LostPartsResult", "lost_parts"]

# With one relative, or beside few, how far species differ: a standard deviation of 15 %,
# weighing as much as two further species (common practice).
_ASSUMED_SPREAD_LN = 0.15
_ASSUMED_DEGREES_OF_FREEDOM = 2
_FEWEST_FOR_OWN_SPREAD = 4
_LIMIT_LN = float(np.log(3.0))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LostPartsResult:
    """Each part's size by (part, element, code), doubts and findings."""

    sizes: Mapping[tuple[str, str | None, str | None], Draws]
    doubts: tuple[Doubt, ...]
    findings: tuple[Finding, ...]


def lost_parts(
    rows: Sequence[LostPart],
    *,
    bone_draws_mm: Mapping[tuple[str, str], Draws],
    mass_draws_kg: Draws | None,
    kept: Places,
    set_aside: Places,
    rng: np.random.Generator,
    n_draws: int,
) -> LostPartsResult:
    """Give each lost part the size it has in relatives, over the same bone.

    Parameters
    ----------
    rows : sequence of LostPart
        One species each: the part over a bone (mm over mm) or over body mass (kg over kg).
    mass_draws_kg : (n_draws,) float or None
        The body's mass, for the parts given over it.

    Notes
    -----
    The ratios of n species are taken as draws from a distribution of logarithms; the lost
    animal's ratio is a further draw, from the t distribution with n - 1 degrees of freedom
    and standard deviation ``s sqrt(1 + 1/n)``. With fewer than four species the spread is
    joined with an assumed one of 15 %.
    """
    doubts = _doubts(rows, kept=kept, set_aside=set_aside)
    held_out = {doubt.ref for doubt in doubts if doubt.held_out}
    used: dict[tuple[str, str | None, str | None], list[LostPart]] = {}
    for row in rows:
        if row.ref in held_out or (row.ref.table, row.ref.row_id) in set_aside:
            continue
        used.setdefault((row.part, row.element, row.code), []).append(row)
    sizes, findings = {}, []
    for key, group in used.items():
        part, element, code = key
        base = bone_draws_mm.get((element, code)) if element and code else mass_draws_kg
        # A part without its bone has no size; its rows wait for the bone.
        if base is None:
            continue
        sizes[key] = _ratio(group, rng=rng, n_draws=n_draws) * base
        out = tuple(ref for ref in held_out if _same_part(ref, rows, key))
        findings.append(_finding(part, element, code, group, sizes[key], out))
    return LostPartsResult(sizes=sizes, doubts=doubts, findings=tuple(findings))


def _same_part(
    ref: RowRef, rows: Sequence[LostPart], key: tuple[str, str | None, str | None]
) -> bool:
    return any(row.ref == ref and (row.part, row.element, row.code) == key for row in rows)


def _ratio(group: Sequence[LostPart], *, rng: np.random.Generator, n_draws: int) -> Draws:
    ln_ratio = np.log([row.ratio for row in group])
    count = len(ln_ratio)
    squares = float(((ln_ratio - ln_ratio.mean()) ** 2).sum())
    degrees = count - 1
    if count < _FEWEST_FOR_OWN_SPREAD:
        squares += _ASSUMED_DEGREES_OF_FREEDOM * _ASSUMED_SPREAD_LN**2
        degrees += _ASSUMED_DEGREES_OF_FREEDOM
    spread = float(np.sqrt(squares / degrees * (1 + 1 / count)))
    return np.asarray(np.exp(ln_ratio.mean() + spread * rng.standard_t(degrees, size=n_draws)))


def _doubts(
    rows: Sequence[LostPart],
    *,
    kept: Places,
    set_aside: Places,
) -> tuple[Doubt, ...]:
    """Doubt a ratio more than three times off the median of the other relatives'."""
    doubts = []
    for row in rows:
        others = [
            np.log(other.ratio)
            for other in rows
            if (other.part, other.element, other.code) == (row.part, row.element, row.code)
            and other is not row
            and (other.ref.table, other.ref.row_id) not in set_aside
        ]
        if not others:
            continue
        apart = float(np.log(row.ratio) - np.median(others))
        if abs(apart) <= _LIMIT_LN:
            continue
        decided = decision_on(row.ref, kept, set_aside)
        tens = abs(apart) / np.log(10)
        doubts.append(
            Doubt(
                ref=row.ref,
                column="ratio",
                kind="factor of ten" if abs(tens - round(tens)) < 0.12 else "out of line",
                found=f"{row.ratio:.4g}",
                expected=f"about {float(np.exp(np.median(others))):.3g}, as the other relatives"
                " have",
                mend="Look at the decimal point, and whether part and bone were in one unit.",
                held_out=decided != "keep",
                decided=decided,
            )
        )
    return tuple(doubts)


def _finding(
    part: str,
    element: str | None,
    code: str | None,
    group: Sequence[LostPart],
    size: Draws,
    held_out: tuple[RowRef, ...],
) -> Finding:
    bone = f"{element} {code}" if element else "body mass"
    caveats = [
        Caveat(
            code="lost part",
            text="No trace of the part itself is left: it is given the proportion it has in"
            " living relatives.",
        )
    ]
    if len(group) < _FEWEST_FOR_OWN_SPREAD:
        noun = "relative" if len(group) == 1 else "relatives"
        caveats.append(
            Caveat(
                code="few relatives",
                text=f"Rests on {len(group)} {noun}, so that a spread of 15 % between species is"
                " assumed beside theirs (common practice).",
            )
        )
    if held_out:
        caveats.append(
            Caveat(
                code="rows held out",
                text="Doubtful ratios are left out until you decide about them: "
                + "; ".join(ref.words() for ref in held_out)
                + ".",
                rows=held_out,
            )
        )
    return Finding(
        key="body.part." + ".".join(w for w in (part.replace(" ", "_"), element, code) if w),
        step="body",
        title=f"{part.capitalize()} (over {bone})",
        value=Quantity(draws=size, unit="mm" if element else "kg"),
        how=HowGot(
            formula=f"part over {bone} in living relatives x {bone} of the lost animal",
            inputs=(f"skeleton.mean.{element}.{code}",) if element else ("body.grown.mass.mean",),
            rows=tuple(row.ref for row in group),
        ),
        n=len(group),
        n_of="relatives",
        caveats=tuple(caveats),
    )
