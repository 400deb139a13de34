"""The length of a bone that the lost animal has not left, from living relatives.

Relatives say how the parts of a body go together from species to species: a wider and
weaker tie than within one species, and the interval says so. It is widened further if the
bones that the lost animal has left are less like its relatives' than relatives are like
each other: an animal that is odd where it is known may be odd where it is not.

What goes wrong silently: a part that shrank or grew in the lost animal alone, as wings do
on islands, is foretold from leg bones as if it had not.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import NotEnoughEvidence
from bonewright.findings import Caveat, Finding, HowGot
from bonewright.quantity import Draws, Quantity
from bonewright.remembering import recalled
from bonewright.skeleton.between_species import BetweenSpecies, learn_between_species
from bonewright.skeleton.foretelling import foretold_ln
from bonewright.skeleton.ln_matrix import Code, LnMatrix

__all__ = ["FromRelatives", "from_relatives_findings", "lengths_from_relatives"]

FEWEST_SPECIES = 5
LIKENESS_WEIGHT = 4.0
"""Measurements that the belief 'as like as relatives are' counts for: common practice."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FromRelatives:
    """Average lengths foretold from relatives: draws (n_draws,) in mm by code.

    ``n_species`` counts the relatives that have the code; ``unlike`` is the median factor
    by which intervals were widened; ``beyond`` says that the lost animal is larger or
    smaller than every relative.
    """

    draws_mm: Mapping[Code, Draws]
    n_species: Mapping[Code, int]
    unlike: float
    beyond: bool


def lengths_from_relatives(
    relatives: LnMatrix, known_ln: Mapping[Code, Draws], *, rng: np.random.Generator
) -> FromRelatives:
    """Draw the average of every measurement that relatives have and the lost animal lacks.

    Parameters
    ----------
    relatives : LnMatrix
        Rows are species means.
    known_ln : mapping
        Draws (n_draws,) of the lost animal's mean ln lengths by code; those that too few
        relatives have are passed over.
    rng : numpy.random.Generator

    Raises
    ------
    NotEnoughEvidence
        If no code is had by five relatives together with one that the animal has left.

    Notes
    -----
    Species are taken as equally related: with close relatives among them the interval is
    somewhat too narrow. A lost animal larger than every relative is beyond the data and
    the growth of proportions is carried on in a straight line.
    """
    usable, wanted = _codes(relatives, known_ln)
    if not usable or not wanted:
        raise NotEnoughEvidence(
            "No further bone can be had from living relatives.",
            needed=f"{FEWEST_SPECIES} relatives that have it and a bone the lost animal has too",
            found="fewer",
            would_help="more rows in relative_measurements",
        )
    columns = [relatives.codes.index(code) for code in (*usable, *wanted)]
    part = LnMatrix(
        rows=relatives.rows,
        codes=(*usable, *wanted),
        values_ln=relatives.values_ln[:, columns],
        present=relatives.present[:, columns],
        error_sd_ln=relatives.error_sd_ln[:, columns],
    )
    # Rests on the relatives alone, with a stream of its own.
    learned = recalled(learn_between_species, part, n_known=len(usable), rng=rng.spawn(1)[0])
    values = np.column_stack([known_ln[code] for code in usable])
    unlike = _unlike_relatives(learned, values, rng=rng)
    means, spreads = learned.states(rng=rng, n_draws=len(values))
    drawn = foretold_ln(
        means,
        spreads,
        values,
        known=np.arange(len(usable)),
        wanted=np.arange(len(usable), len(part.codes)),
        widened=unlike[:, None] * learned.calibration,
        rng=rng,
    )
    return FromRelatives(
        draws_mm={code: np.exp(drawn[:, place]) for place, code in enumerate(wanted)},
        n_species={
            code: int(part.present[:, len(usable) + place].sum())
            for place, code in enumerate(wanted)
        },
        unlike=float(np.median(unlike)),
        beyond=_beyond(part, np.median(values, axis=0)),
    )


def _codes(
    relatives: LnMatrix, known_ln: Mapping[Code, Draws]
) -> tuple[tuple[Code, ...], tuple[Code, ...]]:
    """Return the codes to tell from, and those to be told, in the relatives' order."""
    has = dict(zip(relatives.codes, relatives.present.T, strict=True))
    usable = tuple(code for code in has if code in known_ln and np.sum(has[code]) >= FEWEST_SPECIES)
    if not usable:
        return (), ()
    of_usable = np.any([has[code] for code in usable], axis=0)
    wanted = tuple(
        code
        for code in has
        if code not in known_ln and np.sum(has[code] & of_usable) >= FEWEST_SPECIES
    )
    return usable, wanted


def _unlike_relatives(learned: BetweenSpecies, values: Draws, *, rng: np.random.Generator) -> Draws:
    """Draw how many times further from the relatives the animal stands than they do, (n_draws,).

    The squared distance of the known bones, in the relatives' own spread, follows chi
    squared if the animal is one of them; its posterior scale is drawn, and never below 1.
    """
    n_known = values.shape[1]
    off = np.median(values, axis=0) - learned.mean_ln[:n_known]
    spread = learned.covariance_ln[:n_known, :n_known] * (1 + 1 / learned.n_species)
    spread = spread + np.diag(np.var(values, axis=0))
    distance2 = float(off @ np.linalg.solve(spread, off))
    scale2 = (LIKENESS_WEIGHT + distance2) / rng.chisquare(LIKENESS_WEIGHT + n_known, len(values))
    return np.asarray(np.sqrt(np.maximum(scale2, 1.0)))


def _beyond(part: LnMatrix, median_ln: NDArray[np.float64]) -> bool:
    """Say whether most known bones lie beyond those of every relative."""
    n_known = len(median_ln)
    values = np.where(part.present, part.values_ln, np.nan)[:, :n_known]
    above = median_ln > np.nanmax(values, axis=0)
    below = median_ln < np.nanmin(values, axis=0)
    return bool(max(above.sum(), below.sum()) > n_known / 2)


def from_relatives_findings(foretold: FromRelatives | None) -> tuple[Finding, ...]:
    """Describe each length that only relatives tell."""
    if foretold is None:
        return ()
    caveats = [
        Caveat(
            code="from relatives only",
            text="The lost animal has not left this: living relatives' proportions are carried"
            " over. What grew or shrank in the lost animal alone, as wings do, is not foreseen.",
        )
    ]
    if foretold.beyond:
        text = "The lost animal is beyond the size of every relative measured."
        caveats.append(Caveat(code="beyond relatives", text=text))
    widened = ""
    if foretold.unlike > 1.05:
        widened = (
            f"; widened {foretold.unlike:.2g} times, as the bones it has left are that much less"
            " like its relatives' than relatives are like each other"
        )
    return tuple(
        Finding(
            key=f"skeleton.from_relatives.{element}.{code}",
            step="skeleton",
            title=f"Average {element} {code}, from living relatives alone",
            value=Quantity(draws=draws, unit="mm"),
            how=HowGot(
                formula="ln length given the average ln lengths of the bones it has left, as they"
                " go together in living relatives (covariance pulled to size, bone and residual,"
                " as strongly as foretells left-out relatives best)" + widened,
            ),
            n=foretold.n_species[element, code],
            n_of="living relatives",
            caveats=tuple(caveats),
        )
        for (element, code), draws in foretold.draws_mm.items()
    )
