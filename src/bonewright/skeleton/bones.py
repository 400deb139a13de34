"""Which bones there are: casts joined to their originals, young animals apart."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bonewright.study.model import Specimen

__all__ = ["LENGTH_CODES", "YOUNG", "Bone", "join_casts"]

LENGTH_CODES = ("GL", "GLl", "La", "Lm", "L", "LM", "dL", "LC", "LS", "LV", "CBL", "LP")
"""Codes that run along a bone, so that a break shortens or ends them; the whole length first."""

YOUNG = frozenset({"juvenile", "subadult"})
COPIES = frozenset({"cast", "print"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Bone:
    """One bone of one animal, with the casts of it that are in the table.

    ``specimen`` is the bone itself, or a cast whose original is not in the table.
    ``individual`` is the named individual, or a name of its own for a loose bone.
    """

    specimen: Specimen
    casts: tuple[Specimen, ...]
    individual: str
    loose: bool

    @property
    def young(self) -> bool:
        """Whether the animal was not full grown."""
        return self.specimen.life_stage in YOUNG

    @property
    def only_a_cast(self) -> bool:
        """Whether the bone is known from a cast alone."""
        return self.specimen.preparation in COPIES


def join_casts(specimens: Iterable[Specimen]) -> dict[str, Bone]:
    """Return the bones, keyed by the specimen id of the original.

    A cast of a cast is followed to the first original. A cast whose original is not in
    the table, or that is (against the table's rules) its own original, stands for the bone.
    """
    by_id = {specimen.specimen_id: specimen for specimen in specimens}
    casts: dict[str, list[Specimen]] = {}
    for specimen in by_id.values():
        casts.setdefault(_original_id(specimen, by_id), []).append(specimen)
    bones = {}
    for original_id, members in casts.items():
        original = by_id[original_id]
        named = original.individual_id
        bones[original_id] = Bone(
            specimen=original,
            casts=tuple(member for member in members if member is not original),
            individual=f"individual {named}" if named else f"loose bone {original_id}",
            loose=not named,
        )
    return bones


def _original_id(specimen: Specimen, by_id: Mapping[str, Specimen]) -> str:
    passed = [specimen.specimen_id]
    while True:
        here = by_id[passed[-1]]
        if here.cast_of is None or here.cast_of not in by_id:
            return passed[-1]
        if here.cast_of in passed:  # a ring of casts has no original: its first name stands
            return min(passed[passed.index(here.cast_of) :])
        passed.append(here.cast_of)
