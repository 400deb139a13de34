import dataclasses
from typing import Any

import numpy as np
import pytest

from bonewright.errors import NotEnoughEvidence
from bonewright.findings import Quantity, RowRef, Statement
from bonewright.sections.ellipse import hollow_ellipse
from bonewright.sections.properties import SectionsResult, measure_sections
from bonewright.study.model import Section

NONE: frozenset[tuple[str, str]] = frozenset()
N_DRAWS = 4000
LENGTH_MM = {"femur": 170.0, "tibiotarsus": 260.0, "tarsometatarsus": 150.0}
# Diameters as shares of length: outer breadth, outer depth, inner breadth, inner depth.
SHAPE = {
    "femur": (0.100, 0.110, 0.070, 0.078),
    "tibiotarsus": (0.062, 0.058, 0.042, 0.040),
    "tarsometatarsus": (0.090, 0.080, 0.050, 0.045),
}


def section(
    number: int, element: str = "femur", *, length_mm: float = 170.0, **changes: Any
) -> Section:
    wobble = np.exp(np.random.default_rng(number).normal(0, 0.03, 4))
    diameters = [share * length_mm * w for share, w in zip(SHAPE[element], wobble, strict=True)]
    made = Section(
        ref=RowRef(table="sections", row=number + 1, row_id=f"s{number}"),
        section_id=f"s{number}",
        specimen_id=f"bone{number}",
        species=None,
        element=element,
        position_fraction=0.5,
        bone_length_mm=length_mm,
        outer_mediolateral_mm=diameters[0],
        outer_anteroposterior_mm=diameters[1],
        inner_mediolateral_mm=diameters[2],
        inner_anteroposterior_mm=diameters[3],
        outline_mm=None,
        source_id=None,
    )
    return dataclasses.replace(made, **changes)


def sample() -> tuple[Section, ...]:
    """Twelve sections of the lost animal and three each of six living species."""
    rng = np.random.default_rng(1)
    made = []
    for element, length in LENGTH_MM.items():
        for _ in range(4):
            made.append(
                section(len(made) + 1, element, length_mm=length * np.exp(rng.normal(0, 0.05)))
            )
        for species in range(6):
            of_species = length * (0.3 + 0.2 * species)
            stout = np.exp(rng.normal(0, 0.15))
            one = section(len(made) + 1, element, length_mm=of_species)
            made.append(
                dataclasses.replace(
                    one,
                    species=f"species {species}",
                    specimen_id=None,
                    outer_mediolateral_mm=one.outer_mediolateral_mm * stout,
                    outer_anteroposterior_mm=one.outer_anteroposterior_mm * stout,
                    inner_mediolateral_mm=one.inner_mediolateral_mm * stout,
                    inner_anteroposterior_mm=one.inner_anteroposterior_mm * stout,
                )
            )
    return tuple(made)


def measure(
    sections: tuple[Section, ...],
    *,
    kept: frozenset[tuple[str, str]] = NONE,
    set_aside: frozenset[tuple[str, str]] = NONE,
    length_sd_ln: float = 0.01,
    lengths_mm: dict[str, float] = LENGTH_MM,
) -> SectionsResult:
    rng = np.random.default_rng(7)
    return measure_sections(
        sections,
        average_length_draws_mm={
            element: length * np.exp(rng.normal(0, length_sd_ln, N_DRAWS))
            for element, length in lengths_mm.items()
        },
        kept=kept,
        set_aside=set_aside,
        rng=rng,
        n_draws=N_DRAWS,
    )


def damaged(sections: tuple[Section, ...], place: int, **changes: Any) -> tuple[Section, ...]:
    return (
        *sections[:place],
        dataclasses.replace(sections[place], **changes),
        *sections[place + 1 :],
    )


def test_identical_bones_of_all_sizes_give_z_over_x_of_the_average_length() -> None:
    shape = SHAPE["femur"]
    bones = tuple(
        dataclasses.replace(
            section(number, length_mm=length),
            outer_mediolateral_mm=shape[0] * length,
            outer_anteroposterior_mm=shape[1] * length,
            inner_mediolateral_mm=shape[2] * length,
            inner_anteroposterior_mm=shape[3] * length,
            position_fraction=0.6,
        )
        for number, length in enumerate([150.0, 165.0, 180.0, 190.0], start=1)
    )
    result = measure(bones, length_sd_ln=0.0)
    average = hollow_ellipse(
        170 * shape[0],
        170 * shape[1],
        inner_mediolateral_mm=170 * shape[2],
        inner_anteroposterior_mm=170 * shape[3],
    )
    expected = average.section_modulus_mediolateral_mm3 / (0.4 * 170)
    np.testing.assert_allclose(result.modulus_over_arm_draws_mm2["femur"], expected)


def test_the_interval_of_the_mean_is_the_t_interval_of_the_logarithms() -> None:
    bones = tuple(section(number, length_mm=170.0) for number in range(1, 7))
    result = measure(bones, length_sd_ln=0.0)
    ln_values = np.log(
        [
            one.properties.section_modulus_mediolateral_mm3 / one.distance_to_distal_end_mm
            for one in result.measured
        ]
    )
    half = 2.571 * ln_values.std(ddof=1) / np.sqrt(6)  # t at 5 degrees of freedom
    low, high = np.quantile(np.log(result.modulus_over_arm_draws_mm2["femur"]), [0.025, 0.975])
    assert low == pytest.approx(ln_values.mean() - half, abs=0.1 * half)
    assert high == pytest.approx(ln_values.mean() + half, abs=0.1 * half)


def test_uncertain_average_length_is_carried_draw_by_draw() -> None:
    result = measure(sample(), length_sd_ln=0.2)
    ln_draws = np.log(result.modulus_over_arm_draws_mm2["femur"])
    rng = np.random.default_rng(7)
    lengths = rng.normal(0, 0.2, N_DRAWS)
    assert np.corrcoef(ln_draws, lengths)[0, 1] > 0.95


def test_one_single_section_still_gives_an_answer_with_a_caveat() -> None:
    result = measure((section(1),))
    finding = next(f for f in result.findings if f.key == "sections.modulus.femur")
    assert [caveat.code for caveat in finding.caveats] == ["few bones sectioned"]
    assert isinstance(finding.value, Quantity)
    spread = np.log(finding.value.draws).std()
    assert 0.15 < spread < 0.6


def test_two_sections_of_one_bone_count_as_one_bone() -> None:
    twice = (section(1), section(2, specimen_id="bone1"))
    finding = next(f for f in measure(twice).findings if f.key == "sections.modulus.femur")
    assert finding.n == 1


def test_inner_over_outer_and_the_share_of_bone_agree_with_the_diameters() -> None:
    bones = tuple(
        section(
            number,
            outer_mediolateral_mm=20.0,
            outer_anteroposterior_mm=20.0,
            inner_mediolateral_mm=12.0,
            inner_anteroposterior_mm=12.0,
        )
        for number in range(1, 5)
    )
    by_key = {finding.key: finding for finding in measure(bones).findings}
    ratio = by_key["sections.inner_over_outer.femur"].value
    share = by_key["sections.cortical_area.femur"].value
    assert isinstance(ratio, Quantity)
    assert isinstance(share, Quantity)
    assert ratio.summary().median == pytest.approx(0.6)
    assert share.summary().median == pytest.approx(64.0)


def test_an_element_without_average_length_is_said_to_be_unanswered() -> None:
    result = measure((section(1),), lengths_mm={"tibiotarsus": 260.0})
    assert result.modulus_over_arm_draws_mm2 == {}
    (finding,) = result.findings
    assert finding.key == "sections.unscaled.femur"
    assert isinstance(finding.value, Statement)


def test_a_species_answers_with_the_mean_of_its_sections() -> None:
    two = (section(1, species="a", specimen_id=None), section(2, species="a", specimen_id=None))
    result = measure(two)
    values = [
        one.properties.section_modulus_mediolateral_mm3 / one.distance_to_distal_end_mm
        for one in result.measured
    ]
    assert result.species_modulus_over_arm_mm2 == {("a", "femur"): pytest.approx(np.mean(values))}


def test_no_sections_is_not_enough_evidence() -> None:
    with pytest.raises(NotEnoughEvidence):
        measure(())


def test_sound_sections_raise_no_doubt() -> None:
    assert measure(sample()).doubts == ()


@pytest.mark.parametrize("factor", [10.0, 0.1])
@pytest.mark.parametrize(
    ("field", "column"),
    [
        ("outer_mediolateral_mm", "outerMediolateral"),
        ("outer_anteroposterior_mm", "outerAnteroposterior"),
    ],
)
@pytest.mark.parametrize("place", [1, 6, 11, 17, 22, 28])
def test_an_outer_diameter_wrong_by_ten_is_found_in_its_column(
    place: int, field: str, column: str, factor: float
) -> None:
    sections = sample()
    # An inner diameter must go with it or the check would stop it first.
    changes = {field: getattr(sections[place], field) * factor}
    if factor < 1:
        inner = field.replace("outer", "inner")
        changes[inner] = 0.7 * changes[field]
    result = measure(damaged(sections, place, **changes))
    assert [doubt.ref.row_id for doubt in result.doubts] == [sections[place].section_id]
    assert result.doubts[0].held_out
    if factor > 1:
        assert result.doubts[0].column == column
        assert result.doubts[0].kind == "factor of ten"


@pytest.mark.parametrize("place", [1, 11, 22])
def test_a_length_wrong_by_ten_is_found_for_the_lost_animal(place: int) -> None:
    sections = sample()
    for factor in (10.0, 0.1):
        bad = damaged(sections, place, bone_length_mm=sections[place].bone_length_mm * factor)
        (doubt,) = measure(bad).doubts
        assert (doubt.ref, doubt.column, doubt.kind) == (
            sections[place].ref,
            "boneLength",
            "factor of ten",
        )


def test_a_section_taken_far_from_the_others_is_doubted() -> None:
    sections = sample()
    (doubt,) = measure(damaged(sections, 2, position_fraction=0.05)).doubts
    assert doubt.column == "position"


def test_an_outline_in_the_wrong_unit_is_doubted() -> None:
    sections = sample()
    outline = (
        ((-0.9, -0.9), (0.9, -0.9), (0.9, 0.9), (-0.9, 0.9)),
        ((-0.6, -0.6), (0.6, -0.6), (0.6, 0.6), (-0.6, 0.6)),
    )
    (doubt,) = measure(damaged(sections, 1, outline_mm=outline)).doubts
    assert (doubt.column, doubt.kind) == ("outlineFile", "factor of ten")


def test_a_held_out_section_stays_out_and_the_findings_say_so() -> None:
    sections = sample()
    sound = measure(sections[:1] + sections[2:])
    bad = damaged(sections, 1, outer_mediolateral_mm=sections[1].outer_mediolateral_mm * 10)
    result = measure(bad)
    np.testing.assert_array_equal(
        result.modulus_over_arm_draws_mm2["femur"], sound.modulus_over_arm_draws_mm2["femur"]
    )
    finding = next(f for f in result.findings if f.key == "sections.modulus.femur")
    named = {
        ref for caveat in finding.caveats if caveat.code == "rows held out" for ref in caveat.rows
    }
    assert named == {sections[1].ref}


def test_a_kept_section_is_used_and_its_doubt_says_so() -> None:
    sections = sample()
    bad = damaged(sections, 1, outer_mediolateral_mm=sections[1].outer_mediolateral_mm * 10)
    result = measure(bad, kept=frozenset({("sections", sections[1].section_id)}))
    (doubt,) = result.doubts
    assert (doubt.decided, doubt.held_out) == ("keep", False)
    assert len(result.measured) == len(sections)


def test_a_section_set_aside_is_never_used() -> None:
    sections = sample()
    result = measure(sections, set_aside=frozenset({("sections", sections[0].section_id)}))
    assert sections[0].ref not in {one.ref for one in result.measured}


def test_false_alarms_are_rare_and_errors_of_ten_are_found_in_simulated_studies() -> None:
    """Of 30 simulated studies of 30 sections: no sound row held out in more than 0.5 %."""
    rng = np.random.default_rng(5)
    false_alarms = n_rows = found = 0
    for _ in range(30):
        sections = tuple(
            dataclasses.replace(
                one,
                outer_mediolateral_mm=one.outer_mediolateral_mm * np.exp(rng.normal(0, 0.03)),
                inner_mediolateral_mm=one.inner_mediolateral_mm * np.exp(rng.normal(0, 0.03)),
                inner_anteroposterior_mm=one.inner_anteroposterior_mm * np.exp(rng.normal(0, 0.03)),
            )
            for one in sample()
        )
        false_alarms += len(measure(sections).doubts)
        n_rows += len(sections)
        place = int(rng.integers(len(sections)))
        bad = damaged(
            sections, place, outer_mediolateral_mm=sections[place].outer_mediolateral_mm * 10
        )
        found += sections[place].ref in {doubt.ref for doubt in measure(bad).doubts}
    assert false_alarms <= 0.005 * n_rows
    assert found >= 29
