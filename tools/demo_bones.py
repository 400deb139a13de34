"""The invented bones: which were found, where they are kept, what was read off them."""

from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from demo_animal import LAWFUL_BONES_MM, SEX_FACTOR, SHAPE_CV, SIDE_CV, SIZE_CV

N_NAMED: Final = 27
N_LOOSE: Final = 10
COUNTS: Final = {
    "skull": 8,
    "mandible": 7,
    "sternum": 8,
    "coracoid": 9,
    "scapula": 5,
    "humerus": 9,
    "radius": 7,
    "ulna": 8,
    "pelvis": 9,
    "femur": 22,
    "tibiotarsus": 22,
    "tarsometatarsus": 21,
}
MIDLINE: Final = ("skull", "mandible", "sternum", "pelvis")
BURNT_FACTOR: Final = 0.91
PROXIMAL: Final = ("Bp", "Dp", "Dip", "Dic")
DISTAL: Final = ("Bd", "Dd", "Did")

# code of the collection: source row, observer, unit in which it was measured
COLLECTIONS: Final = {
    "HARB": ("src-01", "observer A", "mm"),
    "UPLC": ("src-02", "observer A", "mm"),
    "SALT": ("src-03", "observer B", "mm"),
    "CLIF": ("src-04", "observer C", "cm"),
    "QUAY": ("src-05", "observer B", "mm"),
    "FENS": ("src-06", "observer D", "mm"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Individual:
    """One bird that died on the island."""

    label: str
    sex: str
    sex_known: bool
    size: float
    shape: dict[tuple[str, str], float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bone:
    """A bone or cast as it truly is, and as the table calls it."""

    individual: Individual
    element: str
    side: str
    collection: str
    true_mm: dict[str, float]
    preservation: str = "complete"
    life_stage: str = "adult"
    preparation: str = "bone"
    cast_of: str = ""
    called: str = ""
    remarks: str = ""
    bone_id: str = ""
    catalog: str = ""
    codes: tuple[str, ...] = field(default=())

    @property
    def entered_as(self) -> str:
        """Element the table gives it."""
        return self.called or self.element


def make_individuals(rng: np.random.Generator) -> list[Individual]:
    """Draw the birds, females and males by turns."""
    birds = []
    for index in range(N_NAMED + N_LOOSE):
        sex = ("female", "male")[index % 2]
        size = float(np.exp(rng.normal(0, SIZE_CV) - SIZE_CV**2 / 2)) * SEX_FACTOR[sex]
        named = index < N_NAMED
        birds.append(
            Individual(
                label=f"ind-{index + 1:02d}" if named else "",
                sex=sex,
                sex_known=bool(named and rng.random() < 0.4),
                size=size,
                shape={
                    (element, code): float(np.exp(rng.normal(0, SHAPE_CV)))
                    for element, codes in LAWFUL_BONES_MM.items()
                    for code in codes
                },
            )
        )
    return birds


def _true_bone(
    rng: np.random.Generator,
    individual: Individual,
    element: str,
    *,
    average_mm: dict[tuple[str, str], float],
    stage_factor: float = 1.0,
) -> dict[str, float]:
    return {
        code: average_mm[element, code]
        * individual.size
        * individual.shape[element, code]
        * float(np.exp(rng.normal(0, SIDE_CV)))
        * stage_factor
        for code in LAWFUL_BONES_MM[element]
    }


def _surviving_codes(rng: np.random.Generator, bone: Bone) -> tuple[str, ...]:
    """Choose which codes can be measured on the bone."""
    codes = tuple(LAWFUL_BONES_MM[bone.element])
    if bone.called:
        entered = LAWFUL_BONES_MM[bone.called]
        return tuple(code for code in codes if code in entered)
    if bone.preservation == "broken":
        lost = DISTAL if rng.random() < 0.5 else PROXIMAL
        first = codes[0]
        whole = ("GL", "La", "Lm", "LM", "CBL", first)
        left = tuple(code for code in codes if code not in whole and code not in lost)
        if left:
            return left
    return tuple(code for code in codes if rng.random() < 0.93) or codes[:1]


def find_bones(
    rng: np.random.Generator,
    individuals: list[Individual],
    average_mm: dict[tuple[str, str], float],
) -> list[Bone]:
    """Draw the bones that survived, spread over sexes, sides and collections."""
    bones: list[Bone] = []
    for element, count in COUNTS.items():
        sides = ("midline",) if element in MIDLINE else ("left", "right")
        for sex, share in (("female", (count + 1) // 2), ("male", count // 2)):
            slots = [(bird, side) for bird in individuals if bird.sex == sex for side in sides]
            for index in rng.permutation(len(slots))[:share]:
                bird, side = slots[int(index)]
                collection = list(COLLECTIONS)[
                    int(rng.choice(6, p=[0.3, 0.2, 0.15, 0.1, 0.15, 0.1]))
                ]
                chance = rng.random()
                preservation = (
                    "broken" if chance < 0.25 else "weathered" if chance < 0.35 else "complete"
                )
                true_mm = _true_bone(rng, bird, element, average_mm=average_mm)
                bones.append(
                    Bone(
                        individual=bird,
                        element=element,
                        side=side,
                        collection=collection,
                        true_mm=true_mm,
                        preservation=preservation,
                    )
                )
    return bones


def mislabel(bones: list[Bone]) -> list[Bone]:
    """Enter one loose tibiotarsus as a femur and one loose radius as an ulna."""
    wrong = {"tibiotarsus": "femur", "radius": "ulna"}
    out = []
    for bone in bones:
        called = ""
        if not bone.individual.label and bone.element in wrong:
            called = wrong.pop(bone.element)
        out.append(replace(bone, called=called, preservation="complete") if called else bone)
    return out


def burn(bones: list[Bone]) -> list[Bone]:
    """Let the first coracoid have lain in a cooking fire, which shrank it."""
    index = next(i for i, bone in enumerate(bones) if bone.element == "coracoid")
    shrunk = {code: value * BURNT_FACTOR for code, value in bones[index].true_mm.items()}
    burnt = replace(
        bones[index],
        true_mm=shrunk,
        preservation="weathered",
        remarks="burnt white in a cooking fire",
    )
    return [*bones[:index], burnt, *bones[index + 1 :]]


def young_bones(
    rng: np.random.Generator,
    individuals: list[Individual],
    average_mm: dict[tuple[str, str], float],
) -> list[Bone]:
    """Draw three bones of birds that had not finished growing."""
    bones = []
    for element, stage, factor in (
        ("femur", "juvenile", 0.66),
        ("tarsometatarsus", "juvenile", 0.71),
        ("tibiotarsus", "subadult", 0.93),
    ):
        bird = replace(individuals[-1], label="", sex_known=False)
        true_mm = _true_bone(rng, bird, element, average_mm=average_mm, stage_factor=factor)
        bones.append(
            Bone(
                individual=bird,
                element=element,
                side="left",
                collection="SALT",
                true_mm=true_mm,
                life_stage=stage,
                remarks="ends not fused to the shaft",
            )
        )
    return bones


def name_bones(rng: np.random.Generator, bones: list[Bone]) -> list[Bone]:
    """Give the bones ids, catalogue numbers and the codes that can be measured."""
    order = sorted(
        rng.permutation(len(bones)), key=lambda i: list(COLLECTIONS).index(bones[i].collection)
    )
    out: list[Bone] = []
    for number, index in enumerate(order, start=1):
        bone = bones[int(index)]
        out.append(
            replace(
                bone,
                bone_id=f"bone-{number:03d}",
                catalog=f"{1850 + 7 * (number % 20)}.{number}",
                codes=_surviving_codes(rng, bone),
            )
        )
    return out


def casts(rng: np.random.Generator, bones: list[Bone]) -> list[Bone]:
    """Make nine casts, three of them of bones that are now lost.

    The three keep their rows as casts; their originals are taken out of the list.
    """
    sound = [
        bone
        for bone in bones
        if bone.preservation == "complete"
        and bone.life_stage == "adult"
        and not bone.called
        and bone.element in ("femur", "tibiotarsus", "tarsometatarsus", "skull", "humerus")
    ]
    chosen = [sound[int(i)] for i in rng.permutation(len(sound))[:9]]
    lost = {bone.bone_id for bone in chosen[:3]}
    out = [
        bone
        if bone.bone_id not in lost
        else replace(
            bone,
            preparation="cast",
            remarks="plaster cast; the original was lost long ago (invented)",
        )
        for bone in bones
    ]
    for number, original in enumerate(chosen[3:], start=len(bones) + 1):
        other = "QUAY" if original.collection != "QUAY" else "FENS"
        shrunk = {code: value * 0.998 for code, value in original.true_mm.items()}
        out.append(
            replace(
                original,
                bone_id=f"bone-{number:03d}",
                catalog=f"cast {number}",
                collection=other,
                preparation="cast",
                cast_of=original.bone_id,
                true_mm=shrunk,
            )
        )
    return out


def specimen_rows(bones: list[Bone]) -> list[dict[str, str]]:
    """Return the rows of specimens."""
    return [
        {
            "materialEntityID": bone.bone_id,
            "institutionCode": bone.collection,
            "catalogNumber": bone.catalog,
            "organismID": bone.individual.label,
            "element": bone.entered_as,
            "side": bone.side,
            "sex": bone.individual.sex if bone.individual.sex_known else "unknown",
            "lifeStage": bone.life_stage,
            "preparations": bone.preparation,
            "castOf": bone.cast_of,
            "preservation": bone.preservation,
            "sourceID": "src-07" if bone.preparation == "cast" else COLLECTIONS[bone.collection][0],
            "materialEntityRemarks": bone.remarks,
        }
        for bone in bones
    ]
