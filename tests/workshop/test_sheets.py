import ctypes
import io
import re

import numpy as np
import pypdfium2
import pypdfium2.raw as raw
import pytest
import trimesh

from bonewright.errors import OutsideRange
from bonewright.workshop.drawing import Drawing, Words, closed_line, open_line
from bonewright.workshop.dxf_drawing import dxf_of
from bonewright.workshop.paper import MARGIN_MM, PAPERS, Paper, joint_lines, roll, tiling_of
from bonewright.workshop.sheets import sheets_of, sheets_pdf
from bonewright.workshop.svg_drawing import svg_of

POINT_MM = 25.4 / 72


def ruled(width: float, height: float) -> Drawing:
    """A frame with a line across its middle, each of known length."""
    frame = [(0, 0), (width, 0), (width, height), (0, height)]
    return Drawing(
        title="Ruled",
        lines=(
            closed_line(frame, "cut"),
            open_line([(10, height / 2), (width - 10, height / 2)], "dimension"),
        ),
        words=(Words(text="known", at=(20, height / 2 + 2), size_mm=3),),
    )


def pdf_of(drawing: Drawing, paper: Paper) -> pypdfium2.PdfDocument:
    content = sheets_pdf(
        [sheets_of(drawing, paper)],
        figure_words="A bird to build, 1:4",
        made_with="test",
        invented=True,
        stamp=0,
    )
    return pypdfium2.PdfDocument(content)


def boxes_mm(page: pypdfium2.PdfPage) -> np.ndarray:
    """Return left, bottom, right, top of the points of every path on a page, mm."""
    boxes = []
    for drawn in page.get_objects():
        if drawn.type != raw.FPDF_PAGEOBJ_PATH:
            continue
        points = []
        matrix = drawn.get_matrix()
        for number in range(raw.FPDFPath_CountSegments(drawn)):
            segment = raw.FPDFPath_GetPathSegment(drawn, number)
            x, y = ctypes.c_float(), ctypes.c_float()
            raw.FPDFPathSegment_GetPoint(segment, x, y)
            points.append(matrix.on_point(x.value, y.value))
        boxes.append((*np.min(points, axis=0), *np.max(points, axis=0)))
    return POINT_MM * np.array(boxes)


def widths(boxes: np.ndarray) -> np.ndarray:
    return boxes[:, 2] - boxes[:, 0]


@pytest.mark.parametrize("paper", [PAPERS["A4"], PAPERS["A3"], PAPERS["letter"], roll(610)])
def test_a_known_length_and_both_bars_are_true_in_the_pdf_to_a_hundredth_of_a_mm(
    paper: Paper,
) -> None:
    boxes = boxes_mm(pdf_of(ruled(180, 120), paper)[0])
    wide, high = widths(boxes), boxes[:, 3] - boxes[:, 1]
    # Printed: the drawing's line of 160 mm, its frame, and the two bars of 100 mm.
    for length, sizes, others in ((160, wide, high), (100, wide, high), (100, high, wide)):
        flat = sizes[others < 0.001]
        assert flat[np.argmin(np.abs(flat - length))] == pytest.approx(length, abs=0.01)
    frame = np.argmin(np.hypot(wide - 180, high - 120))
    assert (wide[frame], high[frame]) == pytest.approx((180, 120), abs=0.01)


def test_pages_have_the_size_of_their_paper() -> None:
    for paper in PAPERS.values():
        page = pdf_of(ruled(50, 50), paper)[0]
        size = sorted(POINT_MM * side for side in page.get_size())
        assert size == pytest.approx(sorted((paper.width_mm, paper.height_mm)), abs=0.01)


def test_tiles_cover_a_large_drawing_without_a_gap_and_agree_on_where_things_are() -> None:
    drawing = ruled(500, 400)
    one = sheets_of(drawing, PAPERS["A4"])
    tiling = one.tiling
    width, height = tiling.window_mm
    left, right, bottom, top = drawing.extent()
    columns = sorted({tile.left_mm for tile in tiling.tiles})
    rows = sorted({tile.bottom_mm for tile in tiling.tiles})
    assert columns[0] <= left
    assert columns[-1] + width >= right
    assert rows[0] <= bottom
    assert rows[-1] + height >= top
    assert np.diff(columns) == pytest.approx(width - tiling.overlap_mm)
    assert np.diff(rows) == pytest.approx(height - tiling.overlap_mm)
    document = pdf_of(drawing, PAPERS["A4"])
    assert len(document) == len(tiling.printed)
    starts = []
    for page, tile in zip(document, tiling.printed, strict=True):
        boxes = boxes_mm(page)
        frame = boxes[np.argmin(np.abs(widths(boxes) - 500))]
        corner = frame[:2]
        # Where the drawing's corner (0, 0) lies on the sheet, brought back to the drawing.
        starts.append(
            (
                corner[0] - MARGIN_MM + tile.left_mm,
                corner[1] - (tiling.page_mm[1] - MARGIN_MM - height) + tile.bottom_mm,
            )
        )
    assert np.array(starts) == pytest.approx(0.0, abs=0.01)


def test_two_neighbouring_sheets_show_the_same_marks() -> None:
    tiling = tiling_of(ruled(300, 200), PAPERS["A4"])
    assert (tiling.rows, tiling.columns) in {(1, 2), (2, 1)}
    marks = [line for line in joint_lines(tiling) if line.layer == "mark"]
    assert len(marks) == 6
    width, height = tiling.window_mm
    for line in marks:
        for x, y in line.points:
            assert all(
                tile.left_mm <= x <= tile.left_mm + width
                and tile.bottom_mm <= y <= tile.bottom_mm + height
                for tile in tiling.tiles
            )


def test_sheets_that_would_show_nothing_are_not_printed() -> None:
    drawing = Drawing(title="Corner", lines=(open_line([(0, 0), (900, 0), (900, 900)], "cut"),))
    tiling = tiling_of(drawing, PAPERS["A4"])
    assert 0 < len(tiling.printed) < len(tiling.tiles)


def test_a_roll_takes_the_whole_drawing_on_one_sheet() -> None:
    tiling = tiling_of(ruled(1500, 560), roll(610))
    assert len(tiling.tiles) == 1
    assert min(tiling.page_mm) == 610


def test_paper_too_narrow_for_the_bar_is_refused() -> None:
    with pytest.raises(OutsideRange):
        tiling_of(ruled(50, 50), roll(120))


def test_an_independent_reader_finds_the_dxf_in_mm_with_the_lengths_drawn() -> None:
    text = dxf_of(ruled(123.4, 56.7))
    read = trimesh.load_path(io.StringIO(text), file_type="dxf")
    assert read.units == "millimeters"
    assert read.extents == pytest.approx([123.4, 56.7])
    assert "103.4" in {f"{entity.length(read.vertices):.1f}" for entity in read.entities}
    assert dxf_of(ruled(123.4, 56.7)) == text


def test_the_svg_states_its_size_in_mm_and_one_unit_is_one_mm() -> None:
    svg, corner = svg_of(ruled(123.4, 56.7))
    found = re.search(
        r'width="([\d.]+)mm" height="([\d.]+)mm" viewBox="0 0 ([\d.]+) ([\d.]+)"', svg
    )
    assert found is not None
    assert [float(found.group(n)) for n in (1, 2)] == pytest.approx([123.4, 56.7])
    assert found.group(1) == found.group(3)
    assert corner == (0.0, 0.0)
