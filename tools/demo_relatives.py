"""The invented living relatives: names, masses, tree and leg bones."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from demo_animal import LAWFUL_BONES_MM, LEG_LAWS, TRUE_MASS_KG, deviation_ln
from demo_words_file import lines_of

TREE_DEPTH: Final = 62.0
BACKBONE_DEPTH: Final = 38.0
SHARED_BY_DESCENT: Final = 0.5
BLIND_SPECIES: Final = "Commenticursor magnus"
STILT_SPECIES: Final = "Falsogrus longissimus"
STILT_FACTOR: Final = 3.2

# Leg length of a way of moving against the law, in standard deviations.
_LENGTH_SHIFT: Final = {
    "runner": 0.5,
    "walker": 0.0,
    "wader": 0.8,
    "swimmer": -1.0,
    "percher": -0.3,
    "flyer": -0.3,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class LivingSpecies:
    """One invented relative with its true species means."""

    name: str
    vernacular: str
    family: str
    locomotion: str
    flight: str
    mass_kg: float
    bones_mm: dict[tuple[str, str], float]


@dataclass(slots=True)
class _Node:
    """A branch of the tree with the deviations that evolved down to its lower end."""

    birth: float
    length: float = 0.0
    children: "tuple[_Node, ...]" = ()
    label: str = ""

    def newick(self) -> str:
        """Write the branch and all below it."""
        inner = ",".join(child.newick() for child in self.children)
        name = f"({inner})" if self.children else self.label.replace(" ", "_")
        return f"{name}:{self.length:.4f}"

    def carry(self, rng: np.random.Generator, state: float, out: dict[str, float]) -> None:
        """Let a deviation drift down the branch, with variance 1 over the tree's depth."""
        state += float(rng.normal(0, np.sqrt(self.length / TREE_DEPTH)))
        if not self.children:
            out[self.label] = state
        for child in self.children:
            child.carry(rng, state, out)


def _birth_tree(rng: np.random.Generator, n_tips: int, *, start: float, end: float) -> _Node:
    """Grow a pure-birth tree from ``start`` to ``end`` with exactly ``n_tips`` tips."""
    splits = np.sort(rng.uniform(start + 0.05 * (end - start), end - 1.5, n_tips - 1))
    root = _Node(start)
    living = [root]
    for time in splits:
        parent = living.pop(int(rng.integers(len(living))))
        parent.length = float(time) - parent.birth
        parent.children = (_Node(float(time)), _Node(float(time)))
        living.extend(parent.children)
    for tip in living:
        tip.length = end - tip.birth
    return root


def _tips(node: _Node) -> list[_Node]:
    if not node.children:
        return [node]
    return [tip for child in node.children for tip in _tips(child)]


def grow_tree(rng: np.random.Generator, families: dict[str, list[str]]) -> _Node:
    """Grow a dated tree in which each family is a clade."""
    backbone = _birth_tree(rng, len(families), start=0.0, end=BACKBONE_DEPTH)
    for stem, species in zip(_tips(backbone), families.values(), strict=True):
        clade = _birth_tree(rng, len(species), start=BACKBONE_DEPTH, end=TREE_DEPTH)
        for tip, name in zip(_tips(clade), species, strict=True):
            tip.label = name
        stem.length += clade.length
        stem.children = clade.children
    backbone.length = 0.0
    return backbone


def make_relatives(rng: np.random.Generator) -> tuple[list[LivingSpecies], str]:
    """Draw the relatives' bones; return them with their tree as Newick text."""
    lines = lines_of("relatives.txt")
    families: dict[str, list[str]] = {}
    for family, genus, epithet, *_ in lines:
        families.setdefault(family, []).append(f"{genus} {epithet}")
    tree = grow_tree(rng, families)
    descent: dict[str, dict[str, float]] = {}
    for shared in ("length", "girth"):
        out: dict[str, float] = {}
        tree.carry(rng, 0.0, out)
        # The drift from the root is common to all: it belongs to the law, not to them.
        centre = float(np.mean(list(out.values())))
        descent[shared] = {name: value - centre for name, value in out.items()}
    relatives = []
    for family, genus, epithet, vernacular, locomotion, flight, mass in lines:
        name = f"{genus} {epithet}"
        mass_kg = float(mass)
        own_share = float(np.sqrt(1 - SHARED_BY_DESCENT))
        shared_dev = {
            kind: float(np.sqrt(SHARED_BY_DESCENT)) * descent[kind][name]
            + own_share * float(rng.normal())
            for kind in ("length", "girth")
        }
        shared_dev["length"] += _LENGTH_SHIFT[locomotion]
        bones = {}
        for (element, code), law in LEG_LAWS.items():
            lawful = LAWFUL_BONES_MM[element][code] * (mass_kg / TRUE_MASS_KG) ** law.exponent
            own = float(rng.normal())
            off = deviation_ln(law, shared=shared_dev[law.follows], own=own)
            bones[element, code] = lawful * float(np.exp(off))
        if name == STILT_SPECIES:
            bones["tarsometatarsus", "GL"] *= STILT_FACTOR
        relatives.append(
            LivingSpecies(
                name=name,
                vernacular=vernacular,
                family=family,
                locomotion=locomotion,
                flight=flight,
                mass_kg=mass_kg,
                bones_mm=bones,
            )
        )
    inner = ",".join(child.newick() for child in tree.children)
    return relatives, f"({inner});\n"


def relative_rows(
    rng: np.random.Generator, relatives: list[LivingSpecies]
) -> tuple[list[dict[str, str]], list[dict[str, str]]]:
    """Return the rows of relatives and of relative_measurements."""
    species_rows: list[dict[str, str]] = []
    bone_rows: list[dict[str, str]] = []
    for species in relatives:
        weighed = int(rng.integers(4, 40))
        grams = species.mass_kg < 1.0
        species_rows.append(
            {
                "scientificName": species.name,
                "vernacularName": species.vernacular,
                "family": species.family,
                "locomotion": species.locomotion,
                "flight": species.flight,
                "bodyMass": f"{species.mass_kg * 1000:.0f}" if grams else f"{species.mass_kg:g}",
                "bodyMassUnit": "g" if grams else "kg",
                "individualCount": str(weighed),
                "sourceID": "src-09",
            }
        )
        measured = int(rng.integers(3, 12))
        for (element, code), value in species.bones_mm.items():
            read = value * float(np.exp(rng.normal(0, 0.004)))
            bone_rows.append(
                _bone_row(len(bone_rows) + 1, species, (element, code), read, measured)
            )
    return species_rows, bone_rows


def _bone_row(
    number: int, species: LivingSpecies, bone: tuple[str, str], read: float, measured: int
) -> dict[str, str]:
    return {
        "measurementID": f"r-{number:04d}",
        "scientificName": species.name,
        "element": bone[0],
        "measurementType": bone[1],
        "measurementValue": f"{read:.1f}" if read >= 10 else f"{read:.2f}",
        "measurementUnit": "mm",
        "individualCount": str(measured),
        "sourceID": "src-10",
    }


# Wing and head of a flying relative as heavy as the lost bird, mm; exponents near isometry.
_WING_AND_HEAD: Final = {
    ("skull", "GL"): (165.0, 0.32),
    ("humerus", "GL"): (185.0, 0.38),
    ("ulna", "GL"): (190.0, 0.39),
}
_WING_OF_FLIGHTLESS: Final = 0.5


def wing_and_head_rows(
    rng: np.random.Generator, relatives: list[LivingSpecies], *, after: int
) -> list[dict[str, str]]:
    """Return rows of wing and skull lengths, numbered on after ``after`` rows."""
    rows: list[dict[str, str]] = []
    for species in relatives:
        wing = float(rng.normal(0, 0.08))
        reduced = _WING_OF_FLIGHTLESS if species.flight == "flightless" else 1.0
        for bone, (length, exponent) in _WING_AND_HEAD.items():
            value = length * (species.mass_kg / TRUE_MASS_KG) ** exponent
            if bone[0] == "skull":
                value *= float(np.exp(rng.normal(0, 0.1)))
            else:
                value *= reduced * float(np.exp(wing + rng.normal(0, 0.03)))
            rows.append(_bone_row(after + len(rows) + 1, species, bone, value, 3))
    return rows
