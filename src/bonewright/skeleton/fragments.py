"""The length that a broken bone had.

A broken femur still has its proximal breadth, and perhaps its individual has a whole
tibiotarsus. The joint model gives the length that goes with them, with an interval as wide
as bones of those breadths vary in length.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.findings import Caveat, Finding, HowGot
from bonewright.quantity import Draws, Quantity
from bonewright.remembering import recalled
from bonewright.skeleton.bones import LENGTH_CODES, Bone
from bonewright.skeleton.joint_average import JointAverage
from bonewright.skeleton.joint_model import in_turn, noise_of_worlds
from bonewright.skeleton.ln_matrix import Code
from bonewright.study.model import Specimen

__all__ = ["FragmentLength", "fragment_findings", "fragment_lengths"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FragmentLength:
    """The length a broken bone had: draws (n_draws,) in mm, and what it was told from.

    ``own`` are the codes of the bone itself, ``n_others`` how many measurements of the
    individual's other bones speak too.
    """

    specimen: Specimen
    code: Code
    draws_mm: Draws
    own: tuple[str, ...]
    n_others: int


def fragment_lengths(
    bones: Sequence[Bone], joint: JointAverage, *, rng: np.random.Generator, n_draws: int
) -> tuple[FragmentLength, ...]:
    """Draw the length of every broken or weathered bone that has lost it.

    Parameters
    ----------
    bones : sequence of Bone
        Grown bones in use. One whose other side was measured is passed over, and so is one
        of which neither itself nor its individual has a measurement.
    joint : JointAverage
    rng, n_draws
        Source and number of draws.

    Notes
    -----
    A length is drawn for the individual, so that left and right count as one.
    """
    row_of = {row: number for number, row in enumerate(joint.matrix.rows)}
    asked = []
    for bone in bones:
        code = _length_of(bone.specimen.element, joint)
        row = row_of.get(bone.individual)
        if bone.specimen.preservation == "complete" or code is None or row is None:
            continue
        known = np.flatnonzero(joint.matrix.present[row])
        wanted = joint.model.column(code)
        if wanted not in known:
            asked.append((bone, row, known, wanted))
    if not asked:
        return ()
    drawn = _drawn_ln(joint, [place[1:] for place in asked], rng=rng, n_draws=n_draws)
    found = []
    for (bone, _, known, wanted), draws_ln in zip(asked, drawn.T, strict=True):
        names = [joint.model.codes[column] for column in known]
        own = tuple(name for element, name in names if element == bone.specimen.element)
        found.append(
            FragmentLength(
                specimen=bone.specimen,
                code=joint.model.codes[wanted],
                draws_mm=np.exp(draws_ln),
                own=own,
                n_others=len(names) - len(own),
            )
        )
    return tuple(found)


def _drawn_ln(
    joint: JointAverage,
    asked: Sequence[tuple[int, NDArray[np.intp], int]],
    *,
    rng: np.random.Generator,
    n_draws: int,
) -> Draws:
    """Draw the ln lengths (n_draws, n_asked) wanted of rows, of which some codes are known.

    Draw i holds for the same world as draw i of the average skeleton. Being linear in that
    world's mean ln lengths, all are found in one product a state.
    """
    states, matrix = joint.model.states, joint.matrix
    follows = np.zeros((len(states), len(asked), len(matrix.codes)))
    known_part = np.empty((len(states), len(asked), 1))
    left = np.empty((len(states), len(asked), 1))
    for place, (row, known, wanted) in enumerate(asked):
        slopes, left[:, place, 0] = states.slopes_of(
            wanted, known, error_sd_ln=matrix.error_sd_ln[row, known]
        )
        follows[:, place, wanted] = 1.0
        follows[:, place, known] = -slopes
        known_part[:, place, 0] = slopes @ matrix.values_ln[row, known]
    worlds = np.matmul(follows, joint.mean_ln_worlds)
    worlds += known_part
    worlds += left * recalled(noise_of_worlds, rng.spawn(1)[0], worlds.shape)
    return in_turn(worlds, n_draws)


def _length_of(element: str, joint: JointAverage) -> Code | None:
    """Return the element's greatest length among the codes of the model."""
    for name in LENGTH_CODES:
        if (element, name) in joint.model.codes:
            return element, name
    return None


def fragment_findings(lengths: Sequence[FragmentLength]) -> tuple[Finding, ...]:
    """Describe each length."""
    return tuple(_finding(length) for length in lengths)


def _finding(length: FragmentLength) -> Finding:
    element, code = length.code
    name = length.specimen.specimen_id
    others = f"{length.n_others} measurements of its individual's other bones"
    parts = [", ".join(length.own)] if length.own else []
    parts += [others] if length.n_others else []
    caveats: tuple[Caveat, ...] = ()
    if not length.own:
        text = "Told from other bones of its individual alone: the bone itself has no measurement."
        caveats = (Caveat(code="other bones only", text=text, rows=(length.specimen.ref,)),)
    return Finding(
        key=f"skeleton.fragment.{name}.{code}",
        step="skeleton",
        title=f"Length that the {length.specimen.preservation} {element} {name} had ({code})",
        value=Quantity(draws=length.draws_mm, unit="mm"),
        how=HowGot(
            formula=f"from {' and '.join(parts)}, as measurements go together in the joint model:"
            " ln length given the known ln lengths, world by world",
            inputs=(f"skeleton.mean.{element}.{code}",),
            rows=(length.specimen.ref,),
        ),
        caveats=caveats,
    )
