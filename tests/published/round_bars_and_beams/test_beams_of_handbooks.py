import itertools
import tomllib
from pathlib import Path

import numpy as np
import pytest
from skfem import Basis, BilinearForm, ElementLineHermite, MeshLine, condense, solve
from skfem.helpers import dd, ddot

from bonewright.workshop.beams import Stretch, buckling_load_n, round_section, tip_movement_mm

SOURCE = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))
E_MPA, LENGTH_MM, FORCE_N = 210_000.0, 640.0, 18.0
SECTION = round_section(16.0, 1.5)
STIFFNESS = E_MPA * SECTION.second_moment_mm4


def as_printed(printed: str) -> object:
    places = len(printed.partition(".")[2])
    return pytest.approx(float(printed), abs=0.5 * 10.0**-places)


@pytest.mark.parametrize("row", SOURCE["tube"], ids=lambda row: row["diameter_mm"])
def test_tubes_have_the_properties_of_the_section_tables(row: dict[str, str]) -> None:
    tube = round_section(float(row["diameter_mm"]), float(row["wall_mm"]))
    assert tube.area_mm2 / 1e2 == as_printed(row["area_cm2"])
    assert tube.second_moment_mm4 / 1e4 == as_printed(row["second_moment_cm4"])
    assert tube.modulus_mm3 / 1e3 == as_printed(row["section_modulus_cm3"])


def sag(loads: list[tuple[float, float]], pieces: int) -> float:
    """Cantilever along x, cut into pieces, each carrying the loads beyond its far end."""
    ends = np.linspace(0.0, LENGTH_MM, pieces + 1)
    stretches = []
    for start, end in itertools.pairwise(ends):
        beyond = [(x, f) for x, f in loads if x >= end - 1e-9]
        stretches.append(
            Stretch(
                start_mm=np.array([start, 0, 0]),
                end_mm=np.array([end, 0, 0]),
                section=SECTION,
                elastic_modulus_mpa=E_MPA,
                places_mm=np.array([[x, 0, 0] for x, _ in beyond]).reshape(-1, 3),
                forces_n=np.array([[0, 0, -f] for _, f in beyond]).reshape(-1, 3),
            )
        )
    return -float(tip_movement_mm(stretches, np.array([LENGTH_MM, 0, 0]))[2])


def test_an_end_load_sinks_a_cantilever_as_the_handbook_says() -> None:
    divisor = float(SOURCE["cantilever"]["end_load_divisor"])
    expected = FORCE_N * LENGTH_MM**3 / (divisor * STIFFNESS)
    assert sag([(LENGTH_MM, FORCE_N)], 1) == pytest.approx(expected)


def test_an_even_load_laid_on_as_many_small_ones_sinks_it_as_the_handbook_says() -> None:
    divisor = float(SOURCE["cantilever"]["even_load_divisor"])
    pieces = 200
    places = (np.arange(pieces) + 0.5) * LENGTH_MM / pieces
    ends = [(float(x), FORCE_N / pieces) for x in places]
    # Each small load stands at the end of a piece of twice as many.
    expected = FORCE_N * LENGTH_MM**3 / (divisor * STIFFNESS)
    assert sag(ends, 2 * pieces) == pytest.approx(expected, rel=1e-4)


def test_a_column_fixed_below_buckles_as_euler_says() -> None:
    factor = float(SOURCE["column"]["effective_length_factor"])
    expected = np.pi**2 * STIFFNESS / (factor * LENGTH_MM) ** 2
    found = buckling_load_n(SECTION, elastic_modulus_mpa=E_MPA, length_mm=LENGTH_MM)
    assert found == pytest.approx(expected)


def test_two_loads_sink_a_cantilever_as_finite_elements_say() -> None:
    mesh = MeshLine(np.linspace(0.0, LENGTH_MM, 9))
    basis = Basis(mesh, ElementLineHermite())

    @BilinearForm
    def bending(u, v, _):  # type: ignore[no-untyped-def]
        return STIFFNESS * ddot(dd(u), dd(v))

    forces = basis.zeros()
    middle = int(np.argmin(np.abs(mesh.p[0] - LENGTH_MM / 2)))
    tip = int(np.argmax(mesh.p[0]))
    forces[basis.nodal_dofs[0, middle]] = -25.0
    forces[basis.nodal_dofs[0, tip]] = -FORCE_N
    root = basis.nodal_dofs[:, int(np.argmin(mesh.p[0]))]
    moved = solve(*condense(bending.assemble(basis), forces, D=root))
    expected = -float(moved[basis.nodal_dofs[0, tip]])
    found = sag([(LENGTH_MM / 2, 25.0), (LENGTH_MM, FORCE_N)], 2)
    assert found == pytest.approx(expected, rel=1e-6)
