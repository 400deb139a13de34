"""How well each measurement fits the others of its bone, and what a misfit probably is.

Each individual is left out of the means in turn, each of its measurements is predicted
from its others, and the difference is put in units of its standard deviation. A value far
off is then explained: which one mistake of those people make (a decimal point, digits
swapped, two columns swapped) would make the whole row fit best? Mistakes are explained
one at a time, the plainest first, so that one wrong value does not throw suspicion on its
right neighbours.

What it cannot see: two columns swapped whose values hardly differ,
and a mistake in the only individual that has a bone, unless living relatives say what to
expect.
"""

from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import NotEnoughEvidence
from bonewright.skeleton.left_out_rows import RowLeftOut, RowsLeftOut, rows_left_out
from bonewright.skeleton.ln_matrix import Code, LnMatrix
from bonewright.skeleton.robust_start import robust_start
from bonewright.skeleton.shrinkage import Pull, ShrinkageTarget

__all__ = ["Misfit", "bone_fit", "doubtful_cells"]

TEN_LN = float(np.log(10))

# Gain in ln likelihood that each explanation must bring. 'Unlike the rest' can be made to
# explain anything, so that it needs most: a value 4.9 standard deviations off.
NEEDED_GAIN = {
    "factor of ten": 6.0,
    "swapped digits": 9.0,
    "swapped columns": 3.5,
    "unlike the rest": 12.0,
}
LEAST_GAIN = min(gain for kind, gain in NEEDED_GAIN.items() if kind != "swapped columns")


@dataclass(frozen=True, slots=True, kw_only=True)
class Misfit:
    """A measurement that does not fit, and what it probably is.

    ``z`` is its distance from what the others of the row let expect, in standard
    deviations; ``expected_mm`` that expectation. ``kind`` is 'factor of ten', 'swapped
    digits', 'swapped columns' (then ``swapped_with`` names the other code, which has a
    misfit of its own) or 'unlike the rest'. ``ln_odds`` is the gain in ln likelihood that
    the explanation brings.
    """

    row: str
    code: Code
    found_mm: float
    expected_mm: float
    z: float
    kind: str
    ln_odds: float
    swapped_with: Code | None = None


def bone_fit(
    matrix: LnMatrix,
    *,
    clean: NDArray[np.bool_] | None = None,
    target: ShrinkageTarget | None = None,
    expected_ln: NDArray[np.float64] | None = None,
) -> NDArray[np.float64]:
    """Return each value's distance from what the rest of its row predicts, (n_rows, n_codes).

    In standard deviations, 0 where there is no value. Only ``clean`` cells teach the
    model. Parameters are those of :func:`doubtful_cells`.
    """
    clean = matrix.present if clean is None else clean
    start = robust_start(matrix, expected_ln=expected_ln)
    z = np.zeros(matrix.present.shape)
    for rows in rows_left_out(matrix, clean, start=start, target=target, expected_ln=expected_ln):
        pulled, precision = rows.pulled()
        own = np.diagonal(precision, axis1=1, axis2=2)
        row, place = np.nonzero(rows.there)
        off = (pulled / np.sqrt(own))[row, place]
        z[rows.numbers[row], rows.columns[row, place]] = off
    return z


def doubtful_cells(
    matrix: LnMatrix,
    *,
    target: ShrinkageTarget | None = None,
    expected_ln: NDArray[np.float64] | None = None,
    pull: Pull | None = None,
    rounds: int = 3,
) -> tuple[Misfit, ...]:
    """Find the measurements that are probably mistakes.

    Parameters
    ----------
    matrix : LnMatrix
        Rows are individuals or single bones.
    target : ShrinkageTarget
        Pattern of covariance from living relatives.
    expected_ln : (n_codes,) float
        Mean ln lengths that living relatives let expect, good to about a quarter; NaN
        where they say nothing. Without it a code known from one or two individuals cannot
        be judged.
    pull : Pull
        Scales of the vague priors; those of grown birds of one species if not given.
    rounds : int
        How often model and mistakes are found anew from each other.

    Raises
    ------
    NotEnoughEvidence
        If there are fewer than three rows: nothing to compare with.
    """
    if len(matrix.rows) < 3:
        raise NotEnoughEvidence(
            "Mistakes cannot be told from the fit of the bones.",
            needed="three individuals",
            found=str(len(matrix.rows)),
            would_help="more individuals, or living relatives",
        )
    start = robust_start(matrix, expected_ln=expected_ln)
    clean = matrix.present & start.fit_to_learn_from
    misfits: list[Misfit] = []
    for _ in range(rounds):
        misfits = []
        doubted = np.zeros_like(clean)
        groups = rows_left_out(
            matrix, clean, start=start, target=target, expected_ln=expected_ln, pull=pull
        )
        suspect = {
            int(rows.numbers[place]): rows.row(place)
            for rows in groups
            for place in _to_be_explained(rows, matrix.element_of_code)
        }
        for number in sorted(suspect):
            for misfit in _explain(suspect[number], matrix.codes, matrix.rows[number]):
                misfits.append(misfit)
                doubted[number, matrix.codes.index(misfit.code)] = True
        settled = np.array_equal(clean, matrix.present & ~doubted)
        clean = matrix.present & ~doubted
        if settled:
            break
    return tuple(misfits)


def _to_be_explained(rows: RowsLeftOut, element: NDArray[np.intp]) -> list[int]:
    """Return the places of rows in which some mistake could bring the gain that it needs.

    No slip in one value can gain more than the step that undoes all of its misfit does.
    """
    pulled, precision = rows.pulled()
    own = np.diagonal(precision, axis1=1, axis2=2)
    single = np.any(rows.there & (pulled**2 / own / 2 > LEAST_GAIN), axis=1)
    step = rows.values_ln[:, None, :] - rows.values_ln[:, :, None]
    bend = own[:, :, None] + own[:, None, :] - 2 * precision
    gain = -step * (pulled[:, :, None] - pulled[:, None, :]) - step**2 * bend / 2
    same = element[rows.columns][:, :, None] == element[rows.columns][:, None, :]
    same &= rows.there[:, :, None] & rows.there[:, None, :]
    swapped = np.any(same & (gain > NEEDED_GAIN["swapped columns"]), axis=(1, 2))
    return np.flatnonzero(single | swapped).tolist()


def _explain(row: RowLeftOut, codes: tuple[Code, ...], name: str) -> list[Misfit]:
    """Explain a row's misfits one by one, the plainest first."""
    swaps: list[tuple[tuple[int, ...], float]] = []
    singles: list[int] = []
    sound = np.arange(len(row.columns))
    while len(sound):
        kind, places, gain = _best_explanation(row.part(sound), codes)
        if not places:
            break
        wrong = tuple(int(sound[place]) for place in places)
        if kind == "swapped columns":
            swaps.append((wrong, gain))
        else:
            singles.extend(wrong)
        sound = np.setdiff1d(sound, wrong)
    found: list[Misfit] = []
    for pair, gain in swaps:
        for place, other in (pair, pair[::-1]):
            against = np.append(sound, place)
            misfit = _misfit(row.part(against), codes, name, "swapped columns", gain)
            found.append(replace(misfit, swapped_with=codes[row.columns[other]]))
    # With all mistakes known, each is named anew by the sound values alone.
    for place in singles:
        alone = row.part(np.append(sound, place))
        kind, places, gain = _best_explanation(alone, codes, only=len(sound))
        if places:
            found.append(_misfit(alone, codes, name, kind, gain))
    return found


def _misfit(row: RowLeftOut, codes: tuple[Code, ...], name: str, kind: str, gain: float) -> Misfit:
    """Describe the last value of a row against the others."""
    z, predicted = row.leave_one_out()
    return Misfit(
        row=name,
        code=codes[row.columns[-1]],
        found_mm=float(np.exp(row.values_ln[-1])),
        expected_mm=float(np.exp(predicted[-1])),
        z=float(z[-1]),
        kind=kind,
        ln_odds=gain,
    )


def _best_explanation(
    row: RowLeftOut, codes: tuple[Code, ...], *, only: int | None = None
) -> tuple[str, tuple[int, ...], float]:
    """Return the mistake that explains the row best: its kind, its places and its gain.

    With ``only``, mistakes of that one place are weighed, swaps left out.
    """
    inverse = np.linalg.inv(row.covariance_ln)
    pulled = inverse @ (row.values_ln - row.mean_ln)
    best: tuple[float, str, tuple[int, ...], float] = (0.0, "", (), 0.0)
    for place in range(len(row.columns)) if only is None else (only,):
        own = inverse[place, place]
        offers = [("unlike the rest", float(pulled[place] ** 2 / own / 2))]
        for kind, step in _single_mistakes(float(row.values_ln[place])):
            offers.append((kind, float(-step * pulled[place] - step**2 * own / 2)))
        for kind, gain in offers:
            best = max(best, (gain - NEEDED_GAIN[kind], kind, (place,), gain))
    if only is not None:
        return best[1:]
    elements = [codes[column][0] for column in row.columns]
    for a, b in combinations(range(len(elements)), 2):
        if elements[a] == elements[b]:
            step = row.values_ln[b] - row.values_ln[a]
            bend = inverse[a, a] + inverse[b, b] - 2 * inverse[a, b]
            gain = float(-step * (pulled[a] - pulled[b]) - step**2 * bend / 2)
            best = max(
                best,
                (gain - NEEDED_GAIN["swapped columns"], "swapped columns", (a, b), gain),
            )
    return best[1:]


def _single_mistakes(value_ln: float) -> list[tuple[str, float]]:
    """Return the slips that could have made a value: kind and the step that undoes it, ln."""
    slips = [("factor of ten", -TEN_LN), ("factor of ten", TEN_LN)]
    text = f"{np.exp(value_ln):.2f}".rstrip("0").rstrip(".")
    for place in range(len(text) - 1):
        pair = text[place : place + 2]
        if "." not in pair and pair[0] != pair[1]:
            turned = float(text[:place] + pair[::-1] + text[place + 2 :])
            if turned > 0:
                slips.append(("swapped digits", float(np.log(turned) - value_ln)))
    return slips
