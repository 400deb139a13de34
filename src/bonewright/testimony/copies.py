"""Who copied whom, and how many independent witnesses remain.

Two things tell of copying: what the person entered (copyOf), and shape. Distances between
the marked shapes of pictures fall into two heaps where there are copies, near pairs and
unrelated pairs; a mixture of two normal distributions on their logarithms gives each pair
the probability that it belongs to the near heap. Where the heaps do not part clearly,
shape is given no say.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bonewright.findings import Doubt
from bonewright.study.model import Picture
from bonewright.testimony.decisions import Decisions
from bonewright.testimony.marks import MarkedPicture
from bonewright.testimony.pictures import is_copy
from bonewright.testimony.shapes import shape_distances

__all__ = ["CopyGroup", "Copying", "alike_probability", "doubt_likeness", "find_copies"]

_Array = NDArray[np.float64]

FEWEST_PAIRS = 10
ALIKE_FROM = 0.9
# Two heaps count as two only where their middles are this many standard deviations of the
# unrelated heap apart: alike pictures of one kind of animal are not copies.
_HEAPS_APART = 3.0
_LEAST_SD = 0.1
_EM_ROUNDS = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class CopyGroup:
    """Pictures that go back to one: the ``original`` and the others in order of date.

    ``told`` are members whose copying the person entered, ``seen`` those joined by shape
    alone.
    """

    original: str
    members: tuple[str, ...]
    told: tuple[str, ...]
    seen: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Copying:
    """Groups of copies, and what remains.

    ``independent`` are the pictures heard as witnesses: the original of each group, and
    every picture in no group that is not said to be a copy. ``effective_number`` is the sum
    over pictures of 1 / (1 + expected number of others of the same origin). ``alike`` maps
    pairs, the later picture first, to (Procrustes distance, probability). ``n_marked``
    pictures could be compared by shape.
    """

    groups: tuple[CopyGroup, ...]
    independent: frozenset[str]
    effective_number: float
    alike: Mapping[tuple[str, str], tuple[float, float]]
    n_marked: int
    shape_has_a_say: bool


def alike_probability(distances: _Array) -> _Array:
    """Return the probability that each distance is one between copies.

    Parameters
    ----------
    distances : (n_pairs,) float
        Procrustes distances above 0; infinite where a pair could not be compared.

    Returns
    -------
    (n_pairs,) float
        All zero with fewer than ten pairs, or where the distances form one heap only.

    Notes
    -----
    Two normal distributions on ln(distance) fitted by expectation and maximisation from a
    start at the largest gap; kept if they beat one by 10 units of the Bayesian information
    criterion [Kass1995]_ and part clearly. Never rises with distance.
    """
    finite = np.isfinite(distances)
    probability = np.zeros(len(distances))
    if finite.sum() < FEWEST_PAIRS:
        return probability
    ln = np.log(np.maximum(distances[finite], 1e-6))
    near = _two_heaps(ln)
    if near is not None:
        order = np.argsort(ln)
        falling = np.maximum.accumulate(near[order][::-1])[::-1]
        near[order] = falling
        probability[finite] = near
    return probability


def _two_heaps(ln: _Array) -> _Array | None:
    ordered = np.sort(ln)
    # Most pairs are unrelated, so the heaps part in the lower half.
    gaps = np.diff(ordered[: len(ordered) // 2 + 1])
    cut = ordered[int(np.argmax(gaps))] if len(gaps) else ordered[0]
    near = (ln <= cut).astype(np.float64)
    share = mean = sd = np.zeros(2)
    for _ in range(_EM_ROUNDS):
        weights = np.array([near, 1 - near])
        total = np.maximum(weights.sum(axis=1), 1e-9)
        share = total / len(ln)
        mean = weights @ ln / total
        spread = (weights * (ln - mean[:, None]) ** 2).sum(axis=1) / total
        sd = np.maximum(np.sqrt(spread), _LEAST_SD)
        density = _ln_density(ln, share, mean, sd)
        updated = np.exp(density[0] - np.logaddexp(*density))
        if np.max(np.abs(updated - near)) < 1e-8:
            break
        near = updated
    two = float(np.logaddexp(*_ln_density(ln, share, mean, sd)).sum())
    one = float(
        _ln_density(
            ln, np.ones(1), np.array([ln.mean()]), np.array([max(ln.std(), _LEAST_SD)])
        ).sum()
    )
    gain = 2 * (two - one) - 3 * np.log(len(ln))
    parted = mean[1] - mean[0] > _HEAPS_APART * sd[1]
    return near if gain > 10 and parted else None


def _ln_density(ln: _Array, share: _Array, mean: _Array, sd: _Array) -> _Array:
    z = (ln - mean[:, None]) / sd[:, None]
    return np.asarray(
        np.log(np.maximum(share, 1e-12))[:, None]
        - 0.5 * z**2
        - np.log(sd * np.sqrt(2 * np.pi))[:, None],
        dtype=np.float64,
    )


def find_copies(
    pictures: Sequence[Picture],
    marked: Sequence[MarkedPicture],
    *,
    kept: frozenset[tuple[str, str]],
) -> Copying:
    """Join what the person entered with what the shapes say.

    Parameters
    ----------
    pictures : sequence of Picture
        The pictures heard.
    marked : sequence of MarkedPicture
        Those of them that carry marks.
    kept : set of (table, row id)
        A picture kept by decision is nobody's copy by shape.
    """
    heard = sorted(pictures, key=lambda one: (one.date.middle, one.picture_id))
    place = {picture.picture_id: index for index, picture in enumerate(heard)}
    shaped = tuple(
        one
        for one in sorted(marked, key=lambda one: place.get(one.picture.picture_id, -1))
        if one.picture.picture_id in place
    )
    alike, has_a_say = _alike_pairs(shaped, kept)
    n = len(heard)
    same = np.eye(n)
    for picture in heard:
        if picture.copy_of in place:
            i, j = place[picture.picture_id], place[picture.copy_of]
            same[i, j] = same[j, i] = 1.0
    told = _joined(same >= 1.0)
    for (later, earlier), (_, probability) in alike.items():
        i, j = place[later], place[earlier]
        same[i, j] = same[j, i] = max(same[i, j], probability)
    every = _joined(same >= ALIKE_FROM)
    same = np.maximum(same, every.astype(np.float64))
    groups, lesser = _groups(heard, told=told, every=every)
    return Copying(
        groups=groups,
        independent=frozenset(
            p.picture_id for p in heard if p.picture_id not in lesser and not is_copy(p)
        ),
        effective_number=float(np.sum(1.0 / same.sum(axis=1))) if n else 0.0,
        alike=alike,
        n_marked=len(shaped),
        shape_has_a_say=has_a_say,
    )


def _alike_pairs(
    shaped: tuple[MarkedPicture, ...], kept: frozenset[tuple[str, str]]
) -> tuple[dict[tuple[str, str], tuple[float, float]], bool]:
    later, earlier = np.tril_indices(len(shaped), -1)
    distances = shape_distances(shaped)[later, earlier]
    probability = alike_probability(distances)
    alike = {}
    for i, j, distance, p in zip(later, earlier, distances, probability, strict=True):
        refs = (shaped[i].picture.ref, shaped[j].picture.ref)
        if p > 0.01 and (refs[0].table, refs[0].row_id) not in kept:
            alike[refs[0].row_id, refs[1].row_id] = (float(distance), float(p))
    return alike, bool(np.any(probability > ALIKE_FROM))


def _joined(linked: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return which pictures hang together by links of links."""
    reach = linked.copy()
    for k in range(len(reach)):
        reach |= np.outer(reach[:, k], reach[k])
    return reach


def _groups(
    heard: Sequence[Picture], *, told: NDArray[np.bool_], every: NDArray[np.bool_]
) -> tuple[tuple[CopyGroup, ...], frozenset[str]]:
    groups, lesser = [], set()
    for index in range(len(heard)):
        members = [int(i) for i in np.flatnonzero(every[index])]
        if members[0] != index or len(members) == 1:
            continue
        # The original is the earliest that is not said to be a copy, if there is one.
        original = next((i for i in members if not is_copy(heard[i])), members[0])
        others = [i for i in members if i != original]
        lesser |= {heard[i].picture_id for i in others}
        groups.append(
            CopyGroup(
                original=heard[original].picture_id,
                members=tuple(heard[i].picture_id for i in members),
                told=tuple(heard[i].picture_id for i in others if told[i, original]),
                seen=tuple(heard[i].picture_id for i in others if not told[i, original]),
            )
        )
    return tuple(groups), frozenset(lesser)


def doubt_likeness(
    pictures: Sequence[Picture], copying: Copying, decisions: Decisions
) -> list[Doubt]:
    """Doubt pictures that shape alone makes copies: the entry is missing, or they are kept."""
    refs = {picture.picture_id: picture.ref for picture in pictures}
    doubts = []
    for group in copying.groups:
        for name in group.seen:
            near = min(
                (
                    (distance, earlier if later == name else later)
                    for (later, earlier), (distance, p) in copying.alike.items()
                    if name in (later, earlier) and p >= ALIKE_FROM
                ),
                default=(0.0, group.original),
            )
            doubts.append(
                decisions.doubt(
                    refs[name],
                    column="copyOf",
                    kind="shaped like another picture",
                    found=f"its marked shape lies {near[0]:.3f} from that of {near[1]}, as near"
                    " as copies do",
                    expected=f"an entry such as {group.original}, or a picture of another shape",
                    mend="Until you decide it is heard as a copy. Enter what it copies, or keep it"
                    " by decision as a witness of its own.",
                )
            )
    return doubts
