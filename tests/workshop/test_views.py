import ctypes
from itertools import pairwise

import numpy as np
import pypdfium2
import pypdfium2.raw as raw
import pytest
from shapely import Polygon

from bonewright.errors import OutsideRange
from bonewright.workshop.dimensions import Measured, heights_beside
from bonewright.workshop.drawing import Drawing
from bonewright.workshop.figure_to_build import FigureToBuild
from bonewright.workshop.hoop_cards import Bar, card_sheets, hoop_cards
from bonewright.workshop.hoop_names import hoops_on_cards, segment_letters
from bonewright.workshop.outlines import VIEWS, section_in_hoop, shadow
from bonewright.workshop.paper import PAPERS
from bonewright.workshop.sections_drawn import key_sections
from bonewright.workshop.sheets import sheets_of, sheets_pdf
from bonewright.workshop.views import view_drawing

POINT_MM = 25.4 / 72


@pytest.fixture(scope="module")
def quarter(feathered: FigureToBuild) -> FigureToBuild:
    return feathered.at_scale(4)


@pytest.fixture(scope="module")
def body(naked: FigureToBuild) -> FigureToBuild:
    return naked.at_scale(4)


def spans_of(drawing: Drawing, layer: str) -> np.ndarray:
    points = [np.array(line.points) for line in drawing.lines if line.layer == layer]
    return np.array([np.ptp(line, axis=0) for line in points])


def path_sizes_mm(page: pypdfium2.PdfPage) -> np.ndarray:
    """Return the width and height of every path on a page, from its points, mm."""
    sizes = []
    for drawn in page.get_objects(filter=[raw.FPDF_PAGEOBJ_PATH]):
        points, matrix = [], drawn.get_matrix()
        for number in range(raw.FPDFPath_CountSegments(drawn)):
            x, y = ctypes.c_float(), ctypes.c_float()
            raw.FPDFPathSegment_GetPoint(raw.FPDFPath_GetPathSegment(drawn, number), x, y)
            points.append(matrix.on_point(x.value, y.value))
        sizes.append(np.ptp(points, axis=0))
    return POINT_MM * np.array(sizes)


def test_the_printed_side_view_is_as_long_and_high_as_the_figure_within_a_tenth_of_a_mm(
    quarter: FigureToBuild, body: FigureToBuild
) -> None:
    drawing = view_drawing(quarter, body, "side")
    content = sheets_pdf(
        [sheets_of(drawing, PAPERS["A3"])],
        figure_words="A bird to build",
        made_with="test",
        invented=True,
        stamp=0,
    )
    sizes = path_sizes_mm(pypdfium2.PdfDocument(content)[0])
    length, _, height = quarter.size_mm
    assert np.min(np.hypot(*(sizes - (length, height)).T)) < 0.1
    length, _, height = body.size_mm
    assert np.min(np.hypot(*(sizes - (length, height)).T)) < 0.1


@pytest.mark.parametrize(("view", "axes"), [("side", (0, 2)), ("front", (1, 2)), ("top", (0, 1))])
def test_each_view_shows_the_two_extents_it_looks_across(
    quarter: FigureToBuild, view: str, axes: tuple[int, int]
) -> None:
    left, bottom, right, top = shadow(quarter.whole, VIEWS[view]).bounds
    wanted = [quarter.size_mm[axis] for axis in axes]
    assert (right - left, top - bottom) == pytest.approx(wanted, abs=0.05)


def test_bones_lie_inside_the_outline(quarter: FigureToBuild, body: FigureToBuild) -> None:
    outline = shadow(body.whole, VIEWS["side"]).buffer(1.0)
    for bone in body.bones:
        seen = shadow(bone.mesh, VIEWS["side"])
        assert seen.difference(outline).area < 0.05 * seen.area, bone.element
    assert len(spans_of(view_drawing(quarter, body, "side"), "bone")) >= 10


def test_dimensions_say_the_heights_of_the_joints(
    quarter: FigureToBuild, body: FigureToBuild
) -> None:
    said = {words.text for words in view_drawing(quarter, body, "side").words}
    for name, segment in (("hip", "thigh"), ("knee", "shank"), ("ankle", "foot")):
        joint = quarter.joints[f"right {segment}"]
        assert f"{name} {joint.at_mm[2]:.1f}" in said
    assert f"top {quarter.size_mm[2]:.1f}" in said


def test_words_of_heights_never_lie_on_each_other() -> None:
    items = [
        Measured(name=f"n{i}", at=(0.0, 10 + 0.1 * i), value_mm=10 + 0.1 * i) for i in range(6)
    ]
    _, words = heights_beside(items, x_mm=-20, size_mm=2.5)
    places = sorted(word.at[1] for word in words)
    assert all(above - below > 2.5 for below, above in pairwise(places))


def test_every_segment_has_letters_of_its_own(quarter: FigureToBuild) -> None:
    letters = segment_letters(quarter)
    assert len(set(letters.values())) == len(letters)
    assert letters["trunk"] == "T"


def test_a_hoop_in_which_two_segments_meet_is_given_once(body: FigureToBuild) -> None:
    cards = hoops_on_cards(body)
    neck = [name for name, segment, _ in cards if segment.segment.startswith("neck")]
    assert len(neck) < sum(
        len(segment.hoops) for segment in body.segments if segment.segment.startswith("neck")
    )


def test_a_card_is_as_large_as_its_hoop_and_a_covering_makes_it_smaller(
    body: FigureToBuild,
) -> None:
    flush = hoop_cards(body, None, covering_mm=0.0)
    covered = {card.name: card for card in hoop_cards(body, None, covering_mm=2.0)}
    for card in flush:
        width, height = np.ptp(card.outline_mm, axis=0)
        assert width == pytest.approx(2 * card.hoop.half_width_mm, rel=2e-3)
        assert height == pytest.approx(card.hoop.dorsal_mm + card.hoop.ventral_mm, rel=2e-3)
        if card.name in covered:
            inner = np.ptp(covered[card.name].outline_mm, axis=0)
            assert inner == pytest.approx((width - 4, height - 4), abs=0.1)
    with pytest.raises(OutsideRange):
        hoop_cards(body, None, covering_mm=90.0)


def test_a_card_has_its_hole_where_the_bar_passes(body: FigureToBuild) -> None:
    name, _, hoop = next(card for card in hoops_on_cards(body) if card[0] == "T3")
    through = hoop.centre_mm + 3.0 * hoop.across - 5.0 * hoop.dorsal
    bar = Bar(
        points_mm=np.stack((through - 40 * hoop.axis, through + 40 * hoop.axis)), diameter_mm=4
    )
    card = next(c for c in hoop_cards(body, None, covering_mm=0, bars=[bar]) if c.name == name)
    rings = [Polygon(line.points) for line in card.drawing.lines if line.layer == "cut"]
    hole = min(rings, key=lambda ring: ring.area)
    assert (hole.centroid.x, hole.centroid.y) == pytest.approx((3.0, -5.0), abs=0.05)
    assert hole.bounds[2] - hole.bounds[0] == pytest.approx(4.0, abs=0.05)


def test_cards_on_a_sheet_do_not_overlap_and_fit_it(body: FigureToBuild) -> None:
    cards = hoop_cards(body, None, covering_mm=0)
    sheets = card_sheets(cards, PAPERS["A4"])
    assert sum(sum(words.strong for words in sheet.words) for sheet in sheets) == len(cards)
    for sheet in sheets:
        left, right, bottom, top = sheet.extent()
        assert right - left <= 190
        assert top - bottom <= 258
        edges = [Polygon(line.points) for line in sheet.lines if line.layer == "cut"]
        outer = [edge for edge in edges if edge.area > 100]
        for at, first in enumerate(outer):
            assert not any(first.intersects(other) for other in outer[at + 1 :])


def test_a_key_section_shows_the_bone_it_cuts(body: FigureToBuild) -> None:
    shank = next(s for s in body.segments if s.label == "left shank")
    bone = next(b for b in body.bones if b.element == "tibiotarsus" and b.side == "left")
    hoop = shank.hoops[1]
    cut = section_in_hoop(bone.mesh, hoop)
    assert 0 < cut.area < Polygon(hoop.outline_mm()).area
    assert Polygon(hoop.outline_mm()).contains(cut)
    drawn = key_sections(body, None, row_mm=180.0)
    assert drawn is not None
    assert any(line.layer == "bone" for line in drawn.lines)


def test_a_skeleton_has_views_but_no_hoops(skeleton: FigureToBuild) -> None:
    quarter = skeleton.at_scale(4)
    assert len(spans_of(view_drawing(quarter, None, "front"), "bone")) > 15
    assert key_sections(quarter, None, row_mm=180.0) is None
    assert hoop_cards(quarter, None, covering_mm=0) == ()
