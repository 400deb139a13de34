import json
import re
from collections.abc import Iterator

import pytest

from bonewright.errors import BonewrightError
from bonewright.pipeline import STEPS, Run
from bonewright.report.figures import FIGURES, figures_for
from bonewright.report.figures.intervals import log_ticks, padded_log_domain
from bonewright.report.rendering import chart_spec, render_pdf, render_png, render_svg

UNITS_ON_AXES = {
    "mass_lines": {"kg"},
    # Drawings to scale: they have a bar and no axes.
    "standing_body": set(),
    "fat_states": set(),
    "skeleton_means": {"%"},
    "size_index": {"length /"},  # the logarithm of a ratio has no unit
    "limb_proportions": {"log scale"},
    "foretold_relatives": {"kg", "of known mass"},
    "leg_bone_fits": {"kg", "mm"},
    "leave_one_out_errors": {"%"},
    "blind_proof": {"kg"},
    "section_outlines": set(),  # no axes: a scale bar instead, tested below
    "bone_curves": {"%"},
    "stresses": {"MPa"},
    "maquette": {"L", "kg"},
    "strength": {"GPa⁻¹"},
    "mass_window": {"kg", "%"},
    "timeline": {"1 to 5"},
    "mount_audit": {"ratio"},
    "mount_bones": {"mm"},
    "leave_one_line_out": {"kg"},
    "evidence_ground": set(),  # a graph, without axes
    "pooling_options": {"kg"},
    "hypotheses": {"kg"},
}


def axis_titles(spec: object) -> Iterator[str]:
    if isinstance(spec, dict):
        for name, part in spec.items():
            if name in {"x", "y"} and isinstance(part, dict):
                for holder in (part, part.get("axis") or {}):
                    if isinstance(holder.get("title"), str):
                        yield holder["title"]
            yield from axis_titles(part)
    elif isinstance(spec, list):
        for part in spec:
            yield from axis_titles(part)


def test_a_run_with_every_answer_has_every_figure_in_the_order_of_the_registry(
    full_run: Run,
) -> None:
    assert [figure.key for figure in figures_for(full_run)] == list(FIGURES)
    assert {spec.step for spec in FIGURES.values()} <= set(STEPS)


def test_figures_of_steps_without_an_answer_are_left_out(empty_run: Run) -> None:
    assert figures_for(empty_run) == ()


def test_asking_for_a_figure_of_an_unanswered_step_says_what_to_do(empty_run: Run) -> None:
    with pytest.raises(BonewrightError):
        FIGURES["strength"].of(empty_run)


def test_the_figures_of_one_step_can_be_asked_for(full_run: Run) -> None:
    found = [figure.key for figure in figures_for(full_run, step="body")]
    assert found == ["standing_body", "fat_states", "maquette"]


@pytest.mark.parametrize("key", FIGURES)
def test_each_figure_is_drawn_without_a_warning_and_without_a_missing_number(
    key: str, full_run: Run, capfd: pytest.CaptureFixture[str]
) -> None:
    import vl_convert

    figure = FIGURES[key].of(full_run)
    svg = render_svg(figure.chart)
    assert svg.startswith("<svg")
    assert "NaN" not in svg
    assert "undefined" not in svg
    assert "Source Sans 3" in svg
    vl_convert.vegalite_to_svg(json.dumps(chart_spec(figure.chart)), show_warnings=True)
    said = "".join(capfd.readouterr())
    assert "WARN" not in said.upper()


@pytest.mark.parametrize("key", FIGURES)
def test_each_figure_says_its_units_its_n_and_itself_in_words(key: str, full_run: Run) -> None:
    figure = FIGURES[key].of(full_run)
    titles = " ".join(axis_titles(figure.chart.to_dict()))
    for unit in UNITS_ON_AXES[key]:
        assert re.search(rf"\([^)]*{re.escape(unit)}", titles), (unit, titles)
    assert re.search(r"\d", figure.caption)
    assert figure.caption.endswith(".")
    assert len(figure.alt) > 30


def test_no_figure_is_wider_than_a_line_of_the_page(full_run: Run) -> None:
    for figure in figures_for(full_run):
        found = re.search(r'width="([0-9.]+)"', render_svg(figure.chart))
        assert found is not None
        assert float(found.group(1)) <= 660, figure.key


def test_the_sections_are_drawn_to_one_scale_with_a_bar(full_run: Run) -> None:
    spec = FIGURES["section_outlines"].of(full_run).chart.to_dict()
    layer = spec["layer"][0]
    x, y = (layer["encoding"][axis]["scale"]["domain"] for axis in "xy")
    assert spec["width"] / (x[1] - x[0]) == pytest.approx(spec["height"] / (y[1] - y[0]))
    assert "10 mm" in render_svg(FIGURES["section_outlines"].of(full_run).chart)


def test_names_inside_two_figures_never_meet_in_one_page(full_run: Run) -> None:
    seen: set[str] = set()
    for figure in figures_for(full_run):
        names = set(re.findall(r'\bid="([^"]+)"', render_svg(figure.chart)))
        assert not names & seen
        seen |= names
    assert seen


def test_a_copy_is_hollow_and_joined_to_what_it_copies(full_run: Run) -> None:
    spec = json.dumps(FIGURES["timeline"].of(full_run).chart.to_dict())
    assert "to_score" in spec
    assert '"copy"' in spec


def test_a_wrong_measure_differs_by_sign_as_well_as_by_colour(full_run: Run) -> None:
    spec = json.dumps(FIGURES["mount_audit"].of(full_run).chart.to_dict())
    assert '"range": ["circle", "cross"]' in spec


def test_a_chart_also_becomes_a_picture_and_a_page(full_run: Run) -> None:
    chart = FIGURES["maquette"].of(full_run).chart
    assert render_png(chart).startswith(b"\x89PNG")
    assert render_pdf(chart).startswith(b"%PDF")


@pytest.mark.parametrize("ends", [(12.0, 19.0), (0.05, 25.0), (7.0, 30.0), (14.9, 15.2), (3, 9e5)])
def test_a_logarithmic_axis_has_three_to_twelve_round_ticks(ends: tuple[float, float]) -> None:
    ticks = log_ticks(ends)
    assert 3 <= len(ticks) <= 12
    assert all(ends[0] <= tick <= ends[1] for tick in ticks)


def test_one_value_alone_still_gets_an_axis() -> None:
    low, high = padded_log_domain([15.0])
    assert low < 15.0 < high
