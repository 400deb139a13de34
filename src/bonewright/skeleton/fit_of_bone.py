"""How well each measurement fits the others of its bone, and what a misfit probably is.

Each individual is left out of the means in turn, each of its measurements is predicted
from its others, and the difference is put in units of its standard deviation. A value far
off is then explained: which one mistake of those people make (a decimal point, digits
swapped, two columns swapped) would make the whole row fit best? Mistakes are explained
one at a time, the plainest first, so that one wrong value does not throw suspicion on its
right neighbours.

What it cannot see: two columns swapped whose values hardly differ (which harms nothing),
and a mistake in the only individual that has a bone, unless living relatives say what to
expect.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import NotEnoughEvidence
from bonewright.skeleton.factor_em import fit_factors
from bonewright.skeleton.ln_matrix import Code, LnMatrix
from bonewright.skeleton.robust_start import robust_start
from bonewright.skeleton.shrinkage import BETWEEN_SPECIES, Pull, ShrinkageTarget

__all__ = ["Misfit", "bone_fit", "doubtful_cells", "expected_from_relatives"]

TEN_LN = float(np.log(10))

# Gain in ln likelihood that each explanation must bring. 'Unlike the rest' can be made to
# explain anything, so that it needs most: a value 4.5 standard deviations off.
NEEDED_GAIN = {
    "factor of ten": 6.0,
    "swapped digits": 7.0,
    "swapped columns": 4.5,
    "unlike the rest": 10.0,
}
UNKNOWN_MEAN_SD = 1.0
EXPECTED_MEAN_SD = 0.25


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Row:
    """One individual's values against the prediction made without it."""

    columns: NDArray[np.intp]
    values_ln: NDArray[np.float64]
    mean_ln: NDArray[np.float64]
    covariance_ln: NDArray[np.float64]


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
    z = np.zeros(matrix.present.shape)
    for number, row in enumerate(_rows(matrix, clean, target=target, expected_ln=expected_ln)):
        if len(row.columns):
            z[number, row.columns] = _leave_one_out(row)[0]
    return z


def doubtful_cells(
    matrix: LnMatrix,
    *,
    target: ShrinkageTarget | None = None,
    expected_ln: NDArray[np.float64] | None = None,
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
    clean = matrix.present & ~start.gross
    misfits: list[Misfit] = []
    for _ in range(rounds):
        misfits = []
        doubted = np.zeros_like(clean)
        rows = _rows(matrix, clean, target=target, expected_ln=expected_ln)
        for number, row in enumerate(rows):
            for misfit in _explain(row, matrix.codes, matrix.rows[number]):
                misfits.append(misfit)
                doubted[number, matrix.codes.index(misfit.code)] = True
        settled = np.array_equal(clean, matrix.present & ~doubted)
        clean = matrix.present & ~doubted
        if settled:
            break
    return tuple(misfits)


def expected_from_relatives(
    relatives: LnMatrix, matrix: LnMatrix
) -> NDArray[np.float64]:
    """Return the mean ln lengths that living relatives let expect, (n_codes,).

    The relatives' proportions are carried to the size of the lost animal, which is the
    median over the codes it shares with them. NaN where no relative has the code, and
    everywhere if they share fewer than three codes.
    """
    expected = np.full(len(matrix.codes), np.nan)
    shared = [
        (column, relatives.codes.index(code))
        for column, code in enumerate(matrix.codes)
        if code in relatives.codes
    ]
    if len(shared) < 3:
        return expected
    ours, theirs = (np.array(side) for side in zip(*shared, strict=True))
    fitted = fit_factors(relatives, pull=BETWEEN_SPECIES)
    mean, loading = fitted.mean_ln[theirs], fitted.loading[theirs, 0]
    centre = robust_start(matrix).centre_ln[ours]
    expected[ours] = mean + loading * np.median((centre - mean) / loading)
    return expected


def _rows(
    matrix: LnMatrix,
    clean: NDArray[np.bool_],
    *,
    target: ShrinkageTarget | None,
    expected_ln: NDArray[np.float64] | None,
) -> list[_Row]:
    """Predict every row from all the others."""
    start = robust_start(matrix, expected_ln=expected_ln)
    centre, sd = start.centre_ln, np.full(len(matrix.codes), UNKNOWN_MEAN_SD)
    if expected_ln is not None:
        told = np.isfinite(expected_ln)
        centre = np.where(told, np.nan_to_num(expected_ln), centre)
        sd = np.where(told, EXPECTED_MEAN_SD, sd)
    covariance = _covariance(matrix.only(clean), target, centre)
    information = np.diag(1 / sd**2)
    pull = centre / sd**2
    parts = []
    for values, kept, error in zip(matrix.values_ln, clean, matrix.error_sd_ln, strict=True):
        columns = np.flatnonzero(kept)
        inner = covariance[np.ix_(columns, columns)] + np.diag(error[columns] ** 2)
        inverse = np.linalg.inv(inner)
        parts.append((columns, inverse, inverse @ values[columns]))
        information[np.ix_(columns, columns)] += inverse
        pull[columns] += parts[-1][2]
    rows = []
    for number, (columns, inverse, pulled) in enumerate(parts):
        without, pull_without = information.copy(), pull.copy()
        without[np.ix_(columns, columns)] -= inverse
        pull_without[columns] -= pulled
        own = np.flatnonzero(matrix.present[number])
        solved = np.linalg.solve(without, np.column_stack([pull_without, np.eye(len(pull))[:, own]]))
        doubt = solved[own, 1:] + np.diag(matrix.error_sd_ln[number, own] ** 2)
        rows.append(
            _Row(
                columns=own,
                values_ln=matrix.values_ln[number, own],
                mean_ln=solved[own, 0],
                covariance_ln=covariance[np.ix_(own, own)] + doubt,
            )
        )
    return rows


def _covariance(
    clean: LnMatrix, target: ShrinkageTarget | None, centre: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Fit the covariance on clean cells; a code without any gets that of its target alone."""
    # One value as uncertain as can be stands in for a code that has lost all of its own.
    lost = ~clean.present.any(axis=0)
    whole = LnMatrix(
        rows=(*clean.rows, "stand-in"),
        codes=clean.codes,
        values_ln=np.vstack([clean.values_ln, np.where(lost, centre, 0.0)]),
        present=np.vstack([clean.present, lost]),
        error_sd_ln=np.vstack([clean.error_sd_ln, np.where(lost, UNKNOWN_MEAN_SD, 0.0)]),
    )
    fitted = fit_factors(
        whole, target=target, pull=Pull(), max_rounds=60, tolerance=0.01
    )
    return fitted.covariance_ln()


def _leave_one_out(row: _Row) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return z of each value given the others, and what they predict for it, in ln mm."""
    inverse = np.linalg.inv(row.covariance_ln)
    pulled = inverse @ (row.values_ln - row.mean_ln)
    precision = np.diag(inverse)
    return pulled / np.sqrt(precision), row.values_ln - pulled / precision


def _explain(row: _Row, codes: tuple[Code, ...], name: str) -> list[Misfit]:
    """Explain a row's misfits one by one, the plainest first."""
    found: list[Misfit] = []
    while len(row.columns):
        z, predicted = _leave_one_out(row)
        kind, places, gain = _best_explanation(row, codes, z)
        if not places:
            break
        for place in places:
            other = next((p for p in places if p != place), None)
            found.append(
                Misfit(
                    row=name,
                    code=codes[row.columns[place]],
                    found_mm=float(np.exp(row.values_ln[place])),
                    expected_mm=float(np.exp(predicted[place])),
                    z=float(z[place]),
                    kind=kind,
                    ln_odds=gain,
                    swapped_with=None if other is None else codes[row.columns[other]],
                )
            )
        rest = np.setdiff1d(np.arange(len(row.columns)), places)
        row = _Row(
            columns=row.columns[rest],
            values_ln=row.values_ln[rest],
            mean_ln=row.mean_ln[rest],
            covariance_ln=row.covariance_ln[np.ix_(rest, rest)],
        )
    return found


def _best_explanation(
    row: _Row, codes: tuple[Code, ...], z: NDArray[np.float64]
) -> tuple[str, tuple[int, ...], float]:
    """Return the mistake that explains the row best: its kind, its places and its gain."""
    inverse = np.linalg.inv(row.covariance_ln)
    pulled = inverse @ (row.values_ln - row.mean_ln)
    offers: list[tuple[float, float, str, tuple[int, ...]]] = []
    for place in range(len(row.columns)):
        for kind, step in _single_mistakes(float(row.values_ln[place])):
            gain = -step * pulled[place] - step**2 * inverse[place, place] / 2
            offers.append((gain - NEEDED_GAIN[kind], gain, kind, (place,)))
        gain = float(z[place] ** 2 / 2)
        offers.append((gain - NEEDED_GAIN["unlike the rest"], gain, "unlike the rest", (place,)))
    elements = [codes[column][0] for column in row.columns]
    for a in range(len(elements)):
        for b in range(a + 1, len(elements)):
            if elements[a] == elements[b]:
                step = row.values_ln[b] - row.values_ln[a]
                gain = -step * (pulled[a] - pulled[b])
                bend = inverse[a, a] + inverse[b, b] - 2 * inverse[a, b]
                gain -= step**2 * bend / 2
                offers.append((gain - NEEDED_GAIN["swapped columns"], gain, "swapped columns", (a, b)))
    above, gain, kind, places = max(offers)
    if above <= 0:
        return "", (), 0.0
    return kind, places, float(gain)


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
