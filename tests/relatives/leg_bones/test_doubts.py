"""Planted and counted: 30 made-up families of 40 species and six measurements."""

import numpy as np
import pytest

N_FAMILIES = 30


def test_no_more_than_one_sound_row_in_two_hundred_is_doubted(families, bones) -> None:
    rows = doubted = 0
    for seed in range(N_FAMILIES):
        family = families(seed)
        rows += len(family.relatives) + len(family.measurements)
        doubted += len(family.predict(bones(15.0), n_draws=500).doubts)
    assert doubted <= 0.005 * rows


@pytest.mark.parametrize("factor", [10.0, 0.1, 1000.0, 0.001])
def test_a_slip_in_a_mass_is_found_nineteen_times_in_twenty(families, bones, factor) -> None:
    found = others = 0
    for seed in range(N_FAMILIES):
        family = families(seed)
        ref = family.damage_mass(int(np.random.default_rng(seed).integers(40)), factor)
        doubts = family.predict(bones(15.0), n_draws=500).doubts
        found += any(doubt.ref == ref and doubt.held_out for doubt in doubts)
        others += sum(doubt.ref != ref for doubt in doubts)
    assert found >= 0.95 * N_FAMILIES
    assert others <= 0.005 * 280 * N_FAMILIES


@pytest.mark.parametrize("factor", [10.0, 0.1])
def test_a_slip_in_a_bone_is_found_nineteen_times_in_twenty(families, bones, factor) -> None:
    found = others = 0
    for seed in range(N_FAMILIES):
        family = families(seed)
        place = int(np.random.default_rng(seed).integers(len(family.measurements)))
        ref = family.damage_bone(place, factor)
        doubts = family.predict(bones(15.0), n_draws=500).doubts
        found += any(doubt.ref == ref and doubt.kind == "factor of ten" for doubt in doubts)
        others += sum(doubt.ref != ref for doubt in doubts)
    assert found >= 0.95 * N_FAMILIES
    assert others <= 0.005 * 280 * N_FAMILIES


@pytest.mark.parametrize(
    ("factor", "kind"),
    [
        (1000.0, "grams for kilograms"),
        (0.1, "factor of ten"),
        (2.20462, "pounds for kilograms"),
        (4.5, "out of line"),
    ],
)
def test_a_wrong_mass_is_named_for_what_it_probably_is(family, bones, factor, kind) -> None:
    for place, row in enumerate(family.measurements):  # birds that keep closely to the law
        sound = bones(family.relatives[place // 6].body_mass_kg)[row.element, row.code]
        wobble = 1 + 0.02 * np.sin(7.0 * place)
        family.damage_bone(place, sound * wobble / row.value_mm)
    ref = family.damage_mass(20, factor)
    (doubt,) = family.predict(bones(15.0)).doubts
    assert (doubt.ref, doubt.column, doubt.kind) == (ref, "bodyMass", kind)


def test_a_row_held_out_does_not_bend_the_line_and_the_finding_names_it(family, bones) -> None:
    key = ("femur", "CD")
    sound = family.predict(bones(15.0)).fits[key]
    ref = family.damage_mass(3, 1000.0)
    result = family.predict(bones(15.0))
    assert result.fits[key].slope == pytest.approx(sound.slope, abs=2 * sound.slope_se)
    assert len(result.fits[key].species) == 39
    entry = next(f for f in result.findings if f.key == "relatives.mass.femur.CD")
    held_out = next(caveat for caveat in entry.caveats if caveat.code == "held out")
    assert held_out.rows == (ref,)


def test_a_kept_row_is_used_and_shown_as_kept(family, bones) -> None:
    ref = family.damage_mass(3, 1000.0)
    result = family.predict(bones(15.0), kept=frozenset({("relatives", ref.row_id)}))
    assert [doubt.decided for doubt in result.doubts if doubt.ref == ref] == ["keep"]
    assert len(result.fits["femur", "CD"].species) == 40


def test_a_row_set_aside_is_never_used_and_its_doubt_is_shown(family, bones) -> None:
    ref = family.damage_mass(3, 1000.0)
    aside = frozenset({("relatives", ref.row_id), ("relative_measurements", "r-0002")})
    result = family.predict(bones(15.0), set_aside=aside)
    assert [doubt.decided for doubt in result.doubts] == ["set aside"]
    assert len(result.fits["femur", "CD"].species) == 38


def test_with_a_single_measurement_a_slip_is_still_found(family) -> None:
    key = ("femur", "CD")
    family.measurements = [row for row in family.measurements if (row.element, row.code) == key]
    ref = family.damage_bone(10, 10.0)
    assert ref in [doubt.ref for doubt in family.predict({key: 50.0}).doubts]


def test_with_a_single_measurement_a_mass_in_grams_is_still_found(family) -> None:
    key = ("femur", "CD")
    family.measurements = [row for row in family.measurements if (row.element, row.code) == key]
    ref = family.damage_mass(10, 1000.0)
    assert ref in [doubt.ref for doubt in family.predict({key: 50.0}).doubts]
