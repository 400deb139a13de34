from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest

from bonewright.sections.outline import traced_outline
from bonewright.study.outlines import read_outline

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="40mm" viewBox="0 0 400 400">'
TUBE = '<circle cx="200" cy="200" r="100"/><circle cx="200" cy="200" r="60"/>'


def svg(folder: Path, content: str, *, head: str = HEAD) -> Path:
    path = folder / "section.svg"
    path.write_text(f"{head}{content}</svg>", encoding="utf-8")
    return path


def dxf(folder: Path, draw: Callable[[Any], None], *, unit: int = 4) -> Path:
    document: Any = ezdxf.new()  # type: ignore[attr-defined]
    document.header["$INSUNITS"] = unit
    draw(document.modelspace())
    path = folder / "section.dxf"
    document.saveas(path)
    return path


def area(path: Path, *, unit_mm: float = 1.0) -> float:
    rings, problems = read_outline(path, path.name, unit_mm=unit_mm)
    assert not problems
    return traced_outline(rings).area_mm2


def found(path: Path) -> str:
    rings, problems = read_outline(path, path.name)
    assert not rings
    assert problems[0].file == path.name
    return problems[0].found


def test_an_svg_that_states_its_size_is_read_in_mm(tmp_path: Path) -> None:
    assert area(svg(tmp_path, TUBE)) == pytest.approx(np.pi * (100 - 36), rel=1e-3)
    assert area(svg(tmp_path, TUBE), unit_mm=10.0) == pytest.approx(
        np.pi * (100 - 36) / 100, rel=1e-3
    )


def test_transforms_and_curves_of_an_svg_are_followed(tmp_path: Path) -> None:
    path = (
        '<g transform="translate(200 200) rotate(30) scale(2)">'
        '<path d="M 50 0 A 50 30 0 1 1 -50 0 A 50 30 0 1 1 50 0 Z"/></g>'
    )
    assert area(svg(tmp_path, path)) == pytest.approx(np.pi * 10 * 6, rel=1e-3)


def test_an_svg_is_turned_so_that_up_is_anterior(tmp_path: Path) -> None:
    wedge = '<path d="M 0 0 L 100 0 L 50 300 Z"/>'
    rings, _ = read_outline(svg(tmp_path, wedge), "section.svg")
    # The broad side is drawn at the top, which is the front: two corners there, one below.
    heights = sorted(y for _, y in rings[0])
    assert heights == pytest.approx([-30, 0, 0], abs=1e-3)


def test_an_svg_without_a_size_is_read_in_the_unit_of_its_row(tmp_path: Path) -> None:
    plain = '<svg xmlns="http://www.w3.org/2000/svg">'
    assert area(svg(tmp_path, '<rect width="8" height="5"/>', head=plain)) == pytest.approx(40)


def test_a_dxf_is_read_by_the_unit_it_states(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        space.add_circle((1, 1), 1.0)
        space.add_lwpolyline([(0.5, 0.5), (1.5, 0.5), (1.5, 1.5), (0.5, 1.5)], close=True)

    assert area(dxf(tmp_path, draw, unit=5)) == pytest.approx(100 * np.pi - 100, rel=1e-3)


def test_lines_and_arcs_of_a_dxf_are_joined_end_to_end(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        space.add_line((0, 0), (10, 0))
        space.add_line((10, 10), (10, 0))
        space.add_arc((5, 10), 5, 0, 180)
        space.add_line((0, 10), (0, 0))

    assert area(dxf(tmp_path, draw)) == pytest.approx(100 + np.pi * 12.5, rel=1e-3)


def test_open_crossing_and_misplaced_rings_are_refused_by_name(tmp_path: Path) -> None:
    assert "open line" in found(svg(tmp_path, '<path d="M 0 0 L 90 0 L 90 90"/>'))
    bow = '<path d="M 0 0 L 90 90 L 90 0 L 0 90 Z"/>'
    assert "crosses" in found(svg(tmp_path, bow))
    beside = '<circle cx="100" cy="100" r="50"/><circle cx="300" cy="100" r="20"/>'
    assert "outside" in found(svg(tmp_path, beside))
    assert "no lines" in found(svg(tmp_path, ""))


def test_what_is_no_drawing_is_refused(tmp_path: Path) -> None:
    for name, content in (("a.svg", "<svg"), ("b.dxf", "nothing"), ("c.svg", "<!ENTITY x>")):
        path = tmp_path / name
        path.write_text(content, encoding="utf-8")
        assert found(path)


def test_an_open_ring_of_points_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "open.csv"
    angles = np.linspace(0, 1.4 * np.pi, 40)
    rows = "".join(f"0,{10 * np.cos(a):.3f},{10 * np.sin(a):.3f}\n" for a in angles)
    path.write_text("ring,x,y\n" + rows, encoding="utf-8")
    assert "open ring" in found(path)
