"""The rules of a build: stock, materials, feathers and limits, the study's own before others."""

from collections.abc import Mapping
from dataclasses import dataclass

from bonewright.errors import NotEnoughEvidence
from bonewright.study.model import Study
from bonewright.study.workshop_defaults import BUILD_LIMITS, BUILD_MATERIALS, FEATHER_TRACTS, STOCK
from bonewright.study.workshop_rows import BuildLimit, BuildMaterial, FeatherTract, StockItem

__all__ = ["BuildRules", "build_rules"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BuildRules:
    """What a build goes by. ``limits`` are keyed by name, ``tracts`` by segment."""

    stock: tuple[StockItem, ...]
    materials: tuple[BuildMaterial, ...]
    tracts: Mapping[str, FeatherTract]
    limits: Mapping[str, BuildLimit]

    def limit(self, name: str) -> float:
        """Return a limit's value, in the unit its name says."""
        return self.limits[name].value

    def material(self, use: str) -> BuildMaterial:
        """Return the material ordered for a use: the first listed, the study's own first.

        Raises
        ------
        NotEnoughEvidence
            If no material serves for it.
        """
        for material in self.materials:
            if material.use == use:
                return material
        raise NotEnoughEvidence(
            f"There is no material to be used as {use}.",
            needed=f"a row with {use} in the column buildUse",
            found="none",
            would_help="add it to tables/build_materials.csv",
        )


def build_rules(study: Study) -> BuildRules:
    """Join a study's rows with those of the program.

    Own stock replaces the program's list whole: nobody cuts from a bar that is not there.
    Own materials, tracts and limits replace the program's of the same name.
    """
    own = study.build_materials
    named = {material.material for material in own}
    return BuildRules(
        stock=study.stock or STOCK,
        materials=(*own, *(m for m in BUILD_MATERIALS if m.material not in named)),
        tracts={tract.segment: tract for tract in (*FEATHER_TRACTS, *study.feather_tracts)},
        limits={limit.limit: limit for limit in (*BUILD_LIMITS, *study.build_limits)},
    )
