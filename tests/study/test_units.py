import pint
import pytest

from bonewright.study.faults import Fault
from bonewright.study.units import EVERYDAY_UNITS, INSIDE_UNIT, factor_to_inside

REGISTRY = pint.UnitRegistry()


def test_every_everyday_factor_is_that_of_pint() -> None:
    for measures, units in EVERYDAY_UNITS.items():
        inside = INSIDE_UNIT[measures].replace("m3", "m**3")
        for unit, factor in units.items():
            name = unit.replace("m3", "m**3")
            assert factor == pytest.approx(
                REGISTRY.Quantity(1.0, name).to(inside).magnitude, rel=1e-12
            )


@pytest.mark.parametrize(
    ("unit", "measures", "factor"),
    [
        ("mm.", "length", 1.0),
        ("inches", "length", 25.4),
        ("centimetre", "length", 10.0),
        ("cm³", "volume", 1e-6),
        ("cm^3", "volume", 1e-6),
        ("cm**3", "volume", 1e-6),
        ("cubic centimetre", "volume", 1e-6),
        ("oz", "mass", 0.028349523125),
    ],
)
def test_units_are_read_as_people_write_them(unit: str, measures: str, factor: float) -> None:
    assert factor_to_inside(unit, measures) == pytest.approx(factor, rel=1e-9)


@pytest.mark.parametrize(
    ("unit", "measures", "meant"),
    [
        ("mmm", "length", "mm"),
        ("MM", "length", "mm"),
        ("KG", "mass", "kg"),
        ("milL", "volume", "mL"),
    ],
)
def test_an_unknown_unit_is_refused_with_the_nearest_named(
    unit: str, measures: str, meant: str
) -> None:
    fault = factor_to_inside(unit, measures)
    assert isinstance(fault, Fault)
    assert f"'{meant}'" in fault.mend


@pytest.mark.parametrize(
    ("unit", "measures"),
    [
        ("kg", "length"),
        ("mm", "mass"),
        ("hour", "length"),
        ("cm2", "volume"),
        ("2*mm", "length"),
        ("9**9**9", "length"),
        ("", "length"),
        ("dimensionless", "length"),
        ("degC", "mass"),
    ],
)
def test_a_unit_of_something_else_is_refused(unit: str, measures: str) -> None:
    assert isinstance(factor_to_inside(unit, measures), Fault)
