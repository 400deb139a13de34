import numpy as np
import pytest

from bonewright.errors import NotEnoughEvidence, OutsideRange
from bonewright.sections.contour import contour_rings
from bonewright.sections.ellipse import hollow_ellipse
from bonewright.sections.threshold import background_is_bright, choose_threshold
from bonewright.sections.traced_picture import trace_picture


def photograph(*, blur: int = 5, noise: float = 4.0) -> np.ndarray:
    """A hollow ellipse of semi-axes 60 and 48, hole 40 and 30 pixels."""
    n = 160
    axis = (np.arange(n * blur) + 0.5) / blur - 0.5 - (n - 1) / 2
    x, y = axis[None, :], -axis[:, None]
    bone = ((x / 60) ** 2 + (y / 48) ** 2 < 1) & ((x / 40) ** 2 + (y / 30) ** 2 >= 1)
    grey = 60 + 150 * bone.reshape(n, blur, n, blur).mean(axis=(1, 3))
    return np.clip(grey + np.random.default_rng(2).normal(0, noise, grey.shape), 0, 255).astype(
        np.uint8
    )


@pytest.mark.parametrize("rule", ["half-maximum", "otsu"])
def test_a_photograph_with_a_scale_bar_gives_the_section_in_mm(rule: str) -> None:
    found = trace_picture(photograph(), pixel_mm=0.2, rule=rule)  # type: ignore[arg-type]
    known = hollow_ellipse(24, 19.2, inner_mediolateral_mm=16, inner_anteroposterior_mm=12)
    assert found.properties.area_mm2 == pytest.approx(known.area_mm2, rel=0.01)
    assert found.properties.section_modulus_mediolateral_mm3 == pytest.approx(
        known.section_modulus_mediolateral_mm3, rel=0.015
    )
    low, high = found.modulus_range_mm3
    assert low < found.properties.section_modulus_mediolateral_mm3 < high
    assert 0 < found.edge_doubt_mm < 0.1


def test_the_front_may_point_anywhere_in_the_picture() -> None:
    upright = trace_picture(photograph(), pixel_mm=0.2, rule="half-maximum").properties
    lying = trace_picture(
        photograph(), pixel_mm=0.2, rule="half-maximum", anterior_rad=0.0
    ).properties
    assert lying.section_modulus_mediolateral_mm3 == pytest.approx(
        upright.section_modulus_anteroposterior_mm3, rel=1e-6
    )


def test_half_maximum_lies_halfway_between_background_and_bone() -> None:
    threshold = choose_threshold(photograph(), "half-maximum")
    assert threshold.background == pytest.approx(60, abs=1)
    assert threshold.bone == pytest.approx(210, abs=1)
    assert threshold.level == pytest.approx(135, abs=1)


def test_a_fixed_threshold_must_lie_among_the_grey_values() -> None:
    assert choose_threshold(photograph(), "fixed", level=120).level == 120
    for level in (None, 0.0, 400.0):
        with pytest.raises(OutsideRange):
            choose_threshold(photograph(), "fixed", level=level)


def test_a_blank_or_hopelessly_noisy_picture_is_refused() -> None:
    with pytest.raises(NotEnoughEvidence):
        choose_threshold(np.full((40, 40), 7, dtype=np.uint8), "otsu")
    noise = np.random.default_rng(1).normal(100, 20, (200, 200))
    with pytest.raises(NotEnoughEvidence):
        choose_threshold(noise, "half-maximum")
    with pytest.raises(NotEnoughEvidence):
        contour_rings(np.zeros((20, 20)), 5.0, pixel_mm=(1, 1))


def test_inverted_grey_is_seen_at_the_rim() -> None:
    grey = photograph()
    level = choose_threshold(grey, "half-maximum").level
    assert not background_is_bright(grey, level)
    assert background_is_bright(255 - grey, level)


def test_a_bone_cut_by_the_frame_is_closed_there() -> None:
    grey = photograph()[:, 80:]
    rings = contour_rings(grey, 135, pixel_mm=(1, 1))
    assert len(rings) == 1
