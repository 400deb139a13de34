import io
from itertools import pairwise

import lib3mf
import numpy as np
import pytest
import trimesh
from shapely import Polygon

from bonewright.body.solids import Mesh, solid_of
from bonewright.errors import OutsideRange
from bonewright.study.model import Surface
from bonewright.study.surface_writing import glb_of, is_closed, stl_of, three_mf_of, welded
from bonewright.workshop.figure_to_build import FigureToBuild
from bonewright.workshop.hoop_cards import Bar
from bonewright.workshop.print_bores import PLAY_MM
from bonewright.workshop.print_cutting import Bed, CutFace, cut_places, cut_to_bed
from bonewright.workshop.print_parts import PrintChoices, PrintSet, print_sets
from bonewright.workshop.print_pegs import CLEARANCE_MM, pegs_of_face, takes_peg, with_sockets

BED = Bed(width_mm=220, depth_mm=200, height_mm=240)


@pytest.fixture(scope="module")
def life_size(naked: FigureToBuild) -> dict[str, PrintSet]:
    return {one.name: one for one in print_sets(naked, PrintChoices(bed=BED))}


@pytest.fixture(scope="module")
def hollow(naked: FigureToBuild) -> dict[str, PrintSet]:
    quarter = naked.at_scale(4)
    chosen = PrintChoices(
        bed=Bed(width_mm=120, depth_mm=120, height_mm=120), hollow=True, wall_mm=2.0
    )
    return {one.name: one for one in print_sets(quarter, chosen)}


def read(content: bytes, kind: str) -> trimesh.Trimesh:
    mesh = trimesh.load(io.BytesIO(content), file_type=kind, force="mesh")
    assert isinstance(mesh, trimesh.Trimesh)
    return mesh


def surface(mesh: Mesh) -> Surface:
    return Surface(vertices=mesh.vertices_mm, faces=np.asarray(mesh.faces, dtype=np.int64))


def test_the_sets_are_body_head_feet_and_skeleton(life_size: dict[str, PrintSet]) -> None:
    assert set(life_size) == {"body", "head", "feet", "skeleton"}
    assert len(life_size["body"].parts) > 8


def test_the_pieces_of_every_set_hold_the_solid_that_was_cut(
    life_size: dict[str, PrintSet], naked: FigureToBuild
) -> None:
    for one in life_size.values():
        total = sum(part.volume_mm3 for part in one.parts)
        assert total == pytest.approx(one.volume_mm3, rel=1e-6)
    assert life_size["body"].volume_mm3 == pytest.approx(naked.volume_mm3, rel=1e-4)


def test_another_library_finds_every_piece_watertight_wound_outwards_and_of_its_volume(
    life_size: dict[str, PrintSet],
) -> None:
    for part in (*life_size["body"].parts, *life_size["skeleton"].parts):
        mesh = read(stl_of(surface(part.mesh)), "stl")
        assert mesh.is_watertight, part.name
        assert mesh.is_winding_consistent, part.name
        sockets = sum(
            (side + 2 * CLEARANCE_MM) ** 2 * (1.25 * side + CLEARANCE_MM) for side in part.sockets
        )
        assert mesh.volume == pytest.approx(part.volume_mm3 - sockets, rel=1e-3), part.name


def test_every_piece_fits_the_bed_and_stands_on_it(life_size: dict[str, PrintSet]) -> None:
    room = BED.usable
    for one in life_size.values():
        for part in one.parts:
            assert np.all(part.size_mm <= np.array(room) + 1e-3), part.name
            assert part.mesh.vertices_mm[:, 2].min() == pytest.approx(0, abs=1e-4)


def test_each_peg_finds_a_socket_in_two_pieces(life_size: dict[str, PrintSet]) -> None:
    for one in life_size.values():
        sockets = sum(len(part.sockets) for part in one.parts)
        assert sockets == 2 * sum(one.pegs.values())
    assert life_size["body"].pegs


def test_a_block_is_cut_into_the_fewest_boxes_and_its_pegs_sit_amid_their_face() -> None:
    block = trimesh.creation.box((300, 100, 100))
    solid = solid_of(Mesh(vertices_mm=np.asarray(block.vertices), faces=np.asarray(block.faces)))
    places = cut_places(solid, Bed(width_mm=160, depth_mm=110, height_mm=110))
    assert [len(on_axis) for on_axis in places] == [1, 0, 0]
    pieces = cut_to_bed(solid, places)
    assert len(pieces) == 2
    square = Polygon([(-50, -50), (50, -50), (50, 50), (-50, 50)])
    face = CutFace(axis=0, at_mm=places[0][0], outline=square)
    first = pegs_of_face(face, pieces)[0]
    assert first.side_mm == 16
    assert first.at_mm[1:] == pytest.approx((0, 0), abs=1.0)
    assert all(takes_peg(piece, first) for piece in pieces)
    taken = pieces[0].solid.volume() - with_sockets(pieces[0].solid, [first]).volume()
    wide = 16 + 2 * CLEARANCE_MM
    assert taken == pytest.approx(wide**2 * (1.25 * 16 + CLEARANCE_MM), rel=1e-3)


def test_a_face_too_thin_for_any_peg_gets_none() -> None:
    block = trimesh.creation.box((300, 3, 100))
    solid = solid_of(Mesh(vertices_mm=np.asarray(block.vertices), faces=np.asarray(block.faces)))
    pieces = cut_to_bed(solid, ((0.0,), (), ()))
    thin = Polygon([(-1.5, -50), (1.5, -50), (1.5, 50), (-1.5, 50)])
    assert pegs_of_face(CutFace(axis=0, at_mm=0.0, outline=thin), pieces) == ()


def test_a_hollow_print_keeps_its_walls_and_weighs_what_its_walls_do(
    hollow: dict[str, PrintSet],
) -> None:
    body = hollow["body"]
    assert body.least_wall_mm is not None
    assert body.least_wall_mm >= 0.95 * 2.0
    meshes = [read(stl_of(surface(part.mesh)), "stl") for part in body.parts]
    assert all(mesh.is_watertight for mesh in meshes)
    held = sum(mesh.volume for mesh in meshes)
    assert held < 0.75 * body.volume_mm3
    assert body.mass_g == pytest.approx(held * 1e-3 * 1.24, rel=1e-3)


def test_thicker_walls_and_more_infill_make_heavier_prints(naked: FigureToBuild) -> None:
    quarter = naked.at_scale(4)
    masses = [
        print_sets(quarter, PrintChoices(bed=BED, wall_mm=wall, infill_percent=infill))[0].mass_g
        for wall, infill in ((1.0, 10), (2.0, 10), (2.0, 100))
    ]
    assert all(lighter < heavier for lighter, heavier in pairwise(masses))
    assert masses[-1] == pytest.approx(quarter.volume_mm3 * 1e-3 * 1.24, rel=1e-3)


def test_the_reference_reader_of_3mf_finds_sound_solids_in_mm(
    hollow: dict[str, PrintSet],
) -> None:
    parts = {part.name: surface(part.mesh) for part in hollow["body"].parts}
    content = three_mf_of(parts)
    model = lib3mf.get_wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromBuffer(content)
    assert reader.GetWarningCount() == 0
    assert model.GetUnit() == lib3mf.ModelUnit.MilliMeter
    objects = model.GetMeshObjects()
    seen = {}
    while objects.MoveNext():
        one = objects.GetCurrentMeshObject()
        assert one.IsManifoldAndOriented()
        seen[one.GetName()] = one.GetVertexCount()
    assert seen == {name: len(welded(part).vertices) for name, part in parts.items()}
    items = model.GetBuildItems()
    assert items.Count() == len(parts)
    assert three_mf_of(parts) == content


def test_the_glb_is_in_metres_and_stands_upright(naked: FigureToBuild) -> None:
    content = glb_of({"body": (surface(naked.whole), (200, 190, 170, 255))})
    read_back = read(content, "glb")
    length, width, height = naked.size_mm / 1000
    assert read_back.extents == pytest.approx((width, height, length), rel=1e-4)


def test_head_and_feet_are_bored_where_the_armature_passes(naked: FigureToBuild) -> None:
    foot = naked.segment("left foot")
    start, end = foot.axis_mm[[0, -1]]
    above = start - 0.5 * (end - start)
    bar = Bar(points_mm=np.stack((above, start + 0.5 * (end - start))), diameter_mm=8.0)
    sets = {one.name: one for one in print_sets(naked, PrintChoices(bed=BED), bars=[bar])}
    left = [part for part in sets["feet"].parts if part.bored]
    assert len(left) == 1
    mesh = read(stl_of(surface(left[0].mesh)), "stl")
    assert mesh.is_watertight
    # The part reaches a tenth of its length above its joint, rounded.
    length = 0.6 * float(np.linalg.norm(end - start))
    bore = np.pi * (8.0 / 2 + PLAY_MM) ** 2 * length
    assert left[0].volume_mm3 - mesh.volume == pytest.approx(bore, rel=0.1)
    assert not any(part.bored for part in sets["head"].parts)
    thick = Bar(points_mm=foot.axis_mm[[0, -1]], diameter_mm=60.0)
    slender = print_sets(naked, PrintChoices(bed=BED), bars=[thick])
    assert not any(part.bored for one in slender for part in one.parts)


def test_a_bed_of_no_size_is_refused() -> None:
    with pytest.raises(OutsideRange):
        Bed(width_mm=220, depth_mm=0, height_mm=200)


def test_welding_closes_what_rounding_would_open_and_leaves_open_surfaces_open() -> None:
    block = trimesh.creation.box((10, 10, 10))
    faces = np.asarray(block.faces, dtype=np.int64)
    # One corner is split into two that are nearer than a file can tell, with a sliver between.
    vertices = np.vstack((block.vertices, block.vertices[faces[0, 0]] + 1e-7))
    first, second, third = faces[0]
    slit = faces.copy()
    slit[0, 0] = len(vertices) - 1
    neighbours = [[len(vertices) - 1, first, second], [third, first, len(vertices) - 1]]
    split = Surface(vertices=vertices, faces=np.vstack((slit, neighbours)))
    assert is_closed(split)
    assert len(welded(split).faces) == len(faces)
    assert read(stl_of(split), "stl").is_watertight
    opened = Surface(vertices=np.asarray(block.vertices), faces=faces[1:])
    assert not is_closed(opened)
    assert welded(opened) is opened
