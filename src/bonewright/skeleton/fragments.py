"""The length of a broken bone, and of a bone nobody has.

A broken femur still has its proximal breadth. If other individuals have both breadth and
length, the joint model gives the length that goes with it. If none has both, living
relatives may: they say how the two go together from species to species, which is a wider
and weaker tie, and the interval says so.
"""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import NotEnoughEvidence
from bonewright.quantity import Draws
from bonewright.skeleton.joint_model import JointModel, fit_joint_model
from bonewright.skeleton.ln_matrix import Code, LnMatrix
from bonewright.skeleton.shrinkage import BETWEEN_SPECIES

__all__ = ["fragment_draws", "length_draws_from_relatives"]

FEWEST_SPECIES = 5


def fragment_draws(
    model: JointModel,
    known_ln: Mapping[Code, float],
    *,
    wanted: tuple[Code, ...],
    error_sd_ln: float = 0.0,
    rng: np.random.Generator,
    n_draws: int,
) -> Draws:
    """Draw what one individual's missing measurements would be, (n_draws, n_wanted), mm.

    Parameters
    ----------
    model : JointModel
        Of the lost animal.
    known_ln : mapping
        The individual's known ln lengths by code.
    wanted : tuple of codes
        All must be in the model.
    error_sd_ln : float
        Technical error of measurement of the known ones, as a share.
    rng, n_draws
        Source and number of draws.

    Raises
    ------
    NotEnoughEvidence
        If the model lacks a code.
    """
    columns = [model.column(code) for code in wanted]
    present = np.zeros(len(model.codes), dtype=np.bool_)
    values = np.zeros((n_draws, len(model.codes)))
    for code, value in known_ln.items():
        present[model.column(code)] = True
        values[:, model.column(code)] = value
    means = model.mean_ln_draws(rng=rng, n_draws=n_draws)
    drawn = _predicted(model, means, values, present=present, error_sd_ln=error_sd_ln, rng=rng)
    return np.exp(drawn[:, columns])


def length_draws_from_relatives(
    relatives: LnMatrix,
    known_ln: Mapping[Code, Draws],
    *,
    wanted: Code,
    rng: np.random.Generator,
) -> Draws:
    """Draw the average length of a bone that the lost animal has not left, (n_draws,), mm.

    Parameters
    ----------
    relatives : LnMatrix
        Rows are species means.
    known_ln : mapping
        Draws (n_draws,) of the lost animal's mean ln lengths by code; those that no
        relative has are passed over.
    wanted : code
        At least five relatives must have it.
    rng : numpy.random.Generator

    Raises
    ------
    NotEnoughEvidence
        If too few relatives have the wanted code together with a known one.

    Notes
    -----
    Species are taken as equally related: with close relatives among them the interval is
    somewhat too narrow. A lost animal larger than every relative is beyond the data and
    the growth of proportions is carried on in a straight line.
    """
    usable = [code for code in known_ln if code in relatives.codes and code != wanted]
    if wanted in relatives.codes:
        has_wanted = relatives.present[:, relatives.codes.index(wanted)]
    else:
        has_wanted = np.zeros(len(relatives.rows), dtype=np.bool_)
    usable = [
        code
        for code in usable
        if np.sum(has_wanted & relatives.present[:, relatives.codes.index(code)]) >= FEWEST_SPECIES
    ]
    if not usable:
        raise NotEnoughEvidence(
            f"{' '.join(wanted)} cannot be had from living relatives.",
            needed=f"{FEWEST_SPECIES} relatives that have it and a bone the lost animal has too",
            found=f"{int(has_wanted.sum())} relatives that have it",
            would_help="more rows in relative_measurements",
        )
    codes = (*usable, wanted)
    columns = [relatives.codes.index(code) for code in codes]
    part = LnMatrix(
        rows=relatives.rows,
        codes=codes,
        values_ln=relatives.values_ln[:, columns],
        present=relatives.present[:, columns],
        error_sd_ln=relatives.error_sd_ln[:, columns],
    )
    model = fit_joint_model(part, pull=BETWEEN_SPECIES, rng=rng)
    n_draws = len(known_ln[usable[0]])
    values = np.zeros((n_draws, len(codes)))
    for column, code in enumerate(usable):
        values[:, column] = known_ln[code]
    present = np.arange(len(codes)) < len(usable)
    means = model.mean_ln_draws(rng=rng, n_draws=n_draws)
    drawn = _predicted(model, means, values, present=present, error_sd_ln=0.0, rng=rng)
    return np.exp(drawn[:, -1])


def _predicted(
    model: JointModel,
    means: Draws,
    values: Draws,
    *,
    present: NDArray[np.bool_],
    error_sd_ln: float,
    rng: np.random.Generator,
) -> Draws:
    """Draw all ln values of one individual given its present ones, world by world."""
    drawn = np.empty_like(means)
    n_states = len(model.states)
    for number, state in enumerate(model.states):
        covariance = state.spread_ln()
        world = slice(number, None, n_states)
        # The conditional mean is linear in what is known: find its slopes once a state.
        inner = covariance[np.ix_(present, present)]
        inner = inner + np.eye(len(inner)) * error_sd_ln**2
        slopes = np.zeros_like(covariance)
        slopes[:, present] = np.linalg.solve(inner, covariance[present]).T
        spread, vectors = np.linalg.eigh(covariance - slopes @ covariance)
        root = vectors * np.sqrt(np.maximum(spread, 0.0))
        off = np.where(present, values[world] - means[world], 0.0)
        noise = rng.standard_normal(off.shape) @ root.T
        drawn[world] = means[world] + off @ slopes.T + noise
    return drawn
