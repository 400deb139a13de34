"""How many animals there were at least."""

from collections import Counter
from collections.abc import Iterable
from math import ceil

from bonewright.skeleton.bones import Bone

__all__ = ["minimum_number_of_individuals"]

# A bird has many toe bones and the tables do not tell them apart, so that they count nothing.
UNCOUNTED = frozenset({"phalanx"})


def minimum_number_of_individuals(bones: Iterable[Bone]) -> int:
    """Return the minimum number of individuals.

    Over elements, the most that the lefts, the rights, or the bones of that element laid
    in pairs demand (a bone of unknown side may pair with any); grown and young animals
    apart, since a young bone cannot belong to a grown animal.

    Notes
    -----
    Source: [White1953]_. Two pieces of one broken bone, entered as two bones of the same
    side, count as two animals.
    """
    counts: dict[tuple[bool, str], Counter[str]] = {}
    for bone in bones:
        if bone.specimen.element not in UNCOUNTED:
            sides = counts.setdefault((bone.young, bone.specimen.element), Counter())
            sides[bone.specimen.side] += 1
    total = 0
    for young in (False, True):
        total += max(
            (_demanded(sides) for (age, _), sides in counts.items() if age is young), default=0
        )
    return total


def _demanded(sides: Counter[str]) -> int:
    paired = sides["left"] + sides["right"] + sides["unknown"]
    if sides["midline"]:  # a bone without sides: each is another animal
        return sides["midline"] + sides["unknown"]
    return max(sides["left"], sides["right"], ceil(paired / 2))
