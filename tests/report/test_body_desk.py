"""The body's files: a plan to edit, traced hoops, solids for any viewer."""

from pathlib import Path

import numpy as np
import pytest
import trimesh

from bonewright.body.plan import body_plan
from bonewright.body.solids import Mesh
from bonewright.errors import BonewrightError
from bonewright.report.body_desk import accept_hoops, glb, hoops_of_drawings, write_plan
from bonewright.study.blank import new_study
from bonewright.study.load import check_folder, load_study

ELLIPSE = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="220mm" height="90mm" viewBox="0 0 220 90">'
    '<ellipse cx="110" cy="45" rx="100" ry="{ry}"/></svg>'
)


def test_the_plan_written_to_a_study_is_the_plan_the_program_uses(tmp_path: Path) -> None:
    folder = tmp_path / "study"
    new_study(folder)
    write_plan(folder)
    assert check_folder(folder) == ()
    study = load_study(folder)
    own = body_plan(study.body_segments, study.body_hoops)
    shipped = body_plan((), ())
    assert set(own.segments) == set(shipped.segments)
    for name, part in shipped.segments.items():
        read = own.segments[name]
        assert [h.station for h in read.hoops] == pytest.approx([h.station for h in part.hoops])
        assert read.segment.angle_rad == pytest.approx(part.segment.angle_rad)
        assert read.segment.parent == part.segment.parent
        assert read.segment.on_ground == part.segment.on_ground


def test_a_plan_is_never_written_over_rows(tmp_path: Path) -> None:
    folder = tmp_path / "study"
    new_study(folder)
    write_plan(folder)
    with pytest.raises(BonewrightError):
        write_plan(folder)


def test_hoops_traced_from_two_drawings_are_kept_in_the_study(tmp_path: Path) -> None:
    folder = tmp_path / "study"
    new_study(folder)
    side, top = tmp_path / "side.svg", tmp_path / "top.svg"
    side.write_text(ELLIPSE.format(ry=30))
    top.write_text(ELLIPSE.format(ry=40))
    hoops = hoops_of_drawings(side, top)
    accept_hoops(folder, "trunk", hoops, source="two drawings", other_percent=19.0)
    kept = load_study(folder).body_hoops
    middle = min(kept, key=lambda hoop: abs(hoop.station - 0.55))
    expected = 40 / 200 * np.sqrt(1 - (2 * 0.55 - 1) ** 2) * 0.9
    assert middle.half_width_ratio == pytest.approx(expected, rel=0.01)
    assert middle.element is None
    with pytest.raises(BonewrightError):
        accept_hoops(folder, "trunk", hoops, source="two drawings", other_percent=0.0)


def test_a_solid_comes_back_from_glb_in_metres_upright_and_not_black() -> None:
    block = trimesh.creation.box(extents=(300, 100, 200))
    content = glb(Mesh(vertices_mm=np.asarray(block.vertices), faces=np.asarray(block.faces)))
    read = trimesh.load_scene(trimesh.util.wrap_as_stream(content), file_type="glb").to_mesh()
    # 300 mm forward, 100 mm across, 200 mm up become z, x and y.
    assert read.extents == pytest.approx([0.1, 0.2, 0.3])
    assert read.volume == pytest.approx(0.006)
    assert read.visual.material.metallicFactor == 0.0
