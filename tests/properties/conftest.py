"""Small whole studies, written as tables and run: femora of one animal, and living relatives."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from bonewright.pipeline import Run, run_study
from bonewright.study.load import load_study

SETTINGS = """[study]
title = "A study under a law"
question = "Does it hold?"
invented = true

[animal]
name = "test rail"
"""
NAMES = tuple(
    f"{first}us {second}us" for first in ("Ralv", "Cursor", "Palud", "Terr") for second in "bcdfgh"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Small:
    """Lengths of femora in mm; relatives as (femur in mm, mass in g)."""

    femora_mm: Sequence[float] = ()
    relatives: Sequence[tuple[float, float]] = ()
    names: Sequence[str] = NAMES
    length_unit: str = "mm"
    mass_unit: str = "g"
    bone_names: Sequence[str] = tuple(f"bone-{number}" for number in range(12))
    backwards: bool = False
    tree: str = ""
    twin: bool = False
    masses_only: bool = False
    n_draws: int = 300
    seed: int = 1


_MM_IN = {"mm": 1.0, "cm": 10.0, "in": 25.4}
_GRAMS_IN = {"g": 1.0, "kg": 1000.0, "lb": 453.59237}


def _long(length_mm: float, unit: str) -> str:
    return f"{length_mm / _MM_IN[unit]:.15g},{unit}"


def _heavy(grams: float, unit: str) -> str:
    return f"{grams / _GRAMS_IN[unit]:.15g},{unit}"


def _write(small: Small, folder: Path) -> None:
    (folder / "tables").mkdir(parents=True)
    settings = SETTINGS
    if small.tree:
        (folder / "files").mkdir()
        (folder / "files" / "tree.nwk").write_text(small.tree, encoding="utf-8")
        settings += '\n[tree]\nfile = "tree.nwk"\n'
    (folder / "study.toml").write_text(settings, encoding="utf-8")
    tables = {
        "specimens": (
            "materialEntityID,institutionCode,catalogNumber,element,side,sex,lifeStage,"
            "preparations,preservation",
            [
                f"{name},AAA,{name},femur,left,unknown,adult,bone,complete"
                for name, _ in zip(small.bone_names, small.femora_mm, strict=False)
            ],
        ),
        "measurements": (
            "measurementID,materialEntityID,measurementType,measurementValue,measurementUnit",
            [
                f"m-{n},{small.bone_names[n]},GL,{_long(value, small.length_unit)}"
                for n, value in enumerate(small.femora_mm)
            ]
            + [
                f"m-twin-{n},{small.bone_names[n]},Lm,{_long(value, small.length_unit)}"
                for n, value in enumerate(small.femora_mm)
                if small.twin
            ],
        ),
        "sources": (
            "sourceID,bibliographicCitation,sourceKind",
            ["src-1,Own measuring,own measuring"],
        ),
        "relatives": (
            "scientificName,vernacularName,family,locomotion,flight,bodyMass,bodyMassUnit,"
            "individualCount,sourceID",
            [
                f"{name},a rail,Ralvidae,walker,flying,"
                + _heavy(mass, small.mass_unit)
                + ",5,src-1"
                for name, (_, mass) in zip(small.names, small.relatives, strict=False)
            ],
        ),
        "relative_measurements": (
            "measurementID,scientificName,element,measurementType,measurementValue,"
            "measurementUnit,individualCount,sourceID",
            [
                f"r-{n},{name},femur,GL,{_long(length, small.length_unit)},5,src-1"
                for n, (name, (length, _)) in enumerate(
                    zip(small.names, small.relatives, strict=False)
                )
                if not small.masses_only
            ]
            + [
                f"r-twin-{n},{name},femur,Lm,{_long(length, small.length_unit)},5,src-1"
                for n, (name, (length, _)) in enumerate(
                    zip(small.names, small.relatives, strict=False)
                )
                if small.twin
            ],
        ),
    }
    for name, (header, rows) in tables.items():
        if rows:
            lines = [header, *(rows[::-1] if small.backwards else rows)]
            (folder / "tables" / f"{name}.csv").write_text("\n".join(lines) + "\n", "utf-8")


@pytest.fixture
def base() -> Small:
    """Four femora, and eight relatives whose mass rises as about the 2.9th power of length."""
    lengths_mm = (21.0, 28.0, 33.0, 41.0, 52.0, 60.0, 74.0, 90.0)
    off = (1.05, 0.93, 1.1, 0.97, 1.02, 0.9, 1.08, 0.99)
    masses_g = [0.9e-3 * mm**2.9 * factor for mm, factor in zip(lengths_mm, off, strict=True)]
    relatives = tuple(zip(lengths_mm, masses_g, strict=True))
    return Small(femora_mm=(61.0, 64.0, 66.5, 70.0), relatives=relatives)


@pytest.fixture
def small_folder(base: Small, tmp_path: Path) -> Path:
    """Write the base study, on a tree, to a folder of its own."""
    tips = [name.replace(" ", "_") for name in NAMES[:8]]
    pairs = [f"({a}:1,{b}:1):1" for a, b in zip(tips[::2], tips[1::2], strict=True)]
    _write(replace(base, tree=f"({','.join(pairs)});"), tmp_path / "study")
    return tmp_path / "study"


@pytest.fixture(scope="session")
def run_small(tmp_path_factory: pytest.TempPathFactory) -> Callable[[Small], Run]:
    def run(small: Small) -> Run:
        folder = tmp_path_factory.mktemp("small") / "study"
        _write(small, folder)
        study = load_study(folder)
        draws = study.settings.draws.model_copy(update={"count": small.n_draws, "seed": small.seed})
        settings = study.settings.model_copy(update={"draws": draws})
        return run_study(replace(study, settings=settings))

    return run
