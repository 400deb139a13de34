"""How fast and how exact bodies are grown, meshed, joined and scanned.

Every speed is measured beside a reference in the same run, by the processor time of this
process, so that a busy machine does not change the outcome. Run it with
``python benchmarks/bench_body.py``; what it printed last is kept in ``docs/body-accuracy.md``.
"""

import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import trimesh

from bonewright.body.grown import body_draws_meshed, grow_body
from bonewright.body.loft import LoftedSegment, loft_mesh
from bonewright.body.loft_moments import loft_moments
from bonewright.body.plan import body_plan, lofted_segments
from bonewright.body.scans import sound_surface
from bonewright.study.settings import Choices
from bonewright.study.surface_files import STL_FACE, read_surface

BONES_MM = {
    ("pelvis", "AA"): 92.0,
    ("pelvis", "LV"): 171.0,
    ("skull", "GB"): 52.0,
    ("skull", "GL"): 148.0,
    ("mandible", "GL"): 121.0,
    ("femur", "GL"): 164.0,
    ("tibiotarsus", "GL"): 259.0,
    ("tarsometatarsus", "GL"): 147.0,
    ("humerus", "GL"): 98.0,
    ("ulna", "GL"): 71.0,
}


def timed(work: Callable[[], object]) -> tuple[float, float]:
    """Return processor seconds and wall seconds of one call."""
    wall, cpu = time.perf_counter(), time.process_time()
    work()
    return time.process_time() - cpu, time.perf_counter() - wall


def bones(n_draws: int) -> dict[tuple[str, str], np.ndarray]:
    rng = np.random.default_rng(1)
    return {key: mm * np.exp(0.01 * rng.standard_normal(n_draws)) for key, mm in BONES_MM.items()}


def random_loft(rng: np.random.Generator) -> LoftedSegment:
    count = int(rng.integers(4, 8))
    station = np.cumsum(rng.uniform(0.6, 1.4, count))
    size = rng.uniform(20, 35, (3, count))
    size[:, 0] *= rng.random() < 0.5
    size[:, -1] *= rng.random() < 0.5
    return LoftedSegment(
        station=(station - station[0]) / (station[-1] - station[0]),
        half_width_mm=size[[0]],
        dorsal_mm=size[[1]],
        ventral_mm=size[[2]],
        dorsal_exponent=rng.uniform(1.6, 3.0, count),
        ventral_exponent=rng.uniform(1.6, 3.0, count),
        length_mm=np.array([rng.uniform(150, 300)]),
        bend_rad=float(rng.uniform(-0.8, 0.8)),
    )


def lofts_against_the_mesh_library() -> None:
    rng = np.random.default_rng(7)
    apart = []
    for _ in range(100):
        loft = random_loft(rng)
        vertices, faces = loft_mesh(loft, around=240, places=60)
        other = trimesh.Trimesh(vertices[0], faces, process=False)
        apart.append(abs(other.volume / loft_moments(loft).volume_mm3[0] - 1))
    print(
        f"100 random lofts, volume by hoops against a mesh library: median {np.median(apart):.1e},"
        f" worst {max(apart):.1e} (promised 1e-3)"
    )


def draws_of_mass() -> None:
    plan, draws = body_plan((), ()), bones(20_000)
    lofts = lofted_segments(plan, draws)
    cpu, wall = timed(lambda: [loft_moments(loft) for loft in lofts.values()])
    print(
        f"20,000 draws of mass, centre and inertia of {len(lofts)} segments through hoops:"
        f" {cpu:.2f} s (wall {wall:.2f} s; promised below 1 s)"
    )
    one = {
        name: loft_mesh(
            LoftedSegment(
                station=loft.station,
                half_width_mm=loft.half_width_mm[:200],
                dorsal_mm=loft.dorsal_mm[:200],
                ventral_mm=loft.ventral_mm[:200],
                dorsal_exponent=loft.dorsal_exponent,
                ventral_exponent=loft.ventral_exponent,
                length_mm=loft.length_mm[:200],
                bend_rad=loft.bend_rad,
            ),
            places=3,
        )
        for name, loft in lofts.items()
    }

    def by_library() -> None:
        for vertices, faces in one.values():
            for draw in vertices:
                mesh = trimesh.Trimesh(draw, faces, process=False)
                _ = mesh.mass_properties

    library, _ = timed(by_library)
    print(
        f"  a mesh library on 200 of those draws: {library:.2f} s, so {library * 100:.0f} s for"
        f" 20,000: {library * 100 / cpu:.0f} times as long"
    )


def whole_bodies() -> None:
    draws = bones(20_000)
    rng = np.random.default_rng(2)
    density = 950 + 50 * rng.standard_normal(20_000)

    def grow() -> object:
        return grow_body(
            body_plan((), ()),
            bone_draws_mm=draws,
            tissues=(),
            choices=Choices(),
            density_draws_kg_m3=density,
            rng=np.random.default_rng(3),
        )

    grow()  # what is loaded on the first call is not counted
    cpu, wall = timed(grow)
    print(
        f"20,000 bodies grown, joined, layered and stood on their feet: {cpu:.2f} s (wall"
        f" {wall:.2f} s)"
    )
    body = grow_body(
        body_plan((), ()),
        bone_draws_mm=draws,
        tissues=(),
        choices=Choices(),
        density_draws_kg_m3=density,
        rng=np.random.default_rng(3),
    )
    cpu, wall = timed(lambda: [body.segments(state) for state in body.states])
    print(
        f"20,000 draws of mass, centre and inertia of each of 17 standing segments, lean, average"
        f" and fat, with layers and fat: {cpu:.2f} s (wall {wall:.2f} s)"
    )
    cpu, wall = timed(lambda: body_draws_meshed(body, slice(0, 200)))
    print(
        f"200 draws of the whole body, every segment meshed where it stands: {cpu:.2f} s (wall"
        f" {wall:.2f} s; promised below 2 s)"
    )


def scans() -> None:
    # Two spheres of a million faces and more, apart from each other: a closed surface.
    ball = trimesh.creation.icosphere(subdivisions=8, radius=300)
    other = ball.copy()
    other.apply_translation([700, 0, 0])
    finer = trimesh.util.concatenate([ball, other])
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "scan.stl"
        finer.export(path)
        found: dict[str, float] = {}

        def ours() -> None:
            surface, problems = read_surface(path, "scan.stl")
            if surface is None:
                raise SystemExit(str(problems))
            found["ours"] = sound_surface(surface).volume

        def library() -> None:
            mesh = trimesh.load_mesh(path)
            if not mesh.is_watertight:
                raise SystemExit("the mesh library finds the scan open")
            found["library"] = float(mesh.volume)
            _ = mesh.mass_properties

        cpu, wall = timed(ours)
        other_cpu, other_wall = timed(library)
        count = len(finer.faces)
        print(
            f"scan of {count:,} faces read, proved closed, looked through for self-crossing and"
            f" measured: {cpu:.2f} s (wall {wall:.2f} s), that is"
            f" {cpu * 2e6 / count:.2f} s for two million (promised below 5 s)"
        )
        print(
            f"  the mesh library, read, proved closed and measured: {other_cpu:.2f} s (wall"
            f" {other_wall:.2f} s): {other_cpu / cpu:.1f} times as long; volumes differ by"
            f" {abs(found['ours'] / found['library'] - 1):.1e}"
        )


def write_ellipsoid(path: Path, n_faces: float) -> None:
    """Write a closed ellipsoid as a binary STL, ring by ring."""
    rings = int(np.sqrt(n_faces / 2))
    up = np.linspace(0, np.pi, rings + 1)
    turn = 2 * np.pi * np.arange(rings) / rings
    circle = np.stack((100 * np.cos(turn), 80 * np.sin(turn), np.zeros(rings)), axis=1)

    def points(ring: int) -> np.ndarray:
        width = 0.0 if ring in (0, rings) else np.sin(up[ring])
        return (width * circle + [0, 0, 60 * np.cos(up[ring])]).astype("<f4")

    count = 0
    with path.open("wb") as stream:
        stream.write(bytes(84))
        for ring in range(rings):
            a, b = points(ring), points(ring + 1)
            c, d = np.roll(b, -1, axis=0), np.roll(a, -1, axis=0)
            for corners in ((a, b, c), (a, c, d)):
                # At the poles one of the two has no width.
                if ring == (rings - 1 if corners[1] is b else 0):
                    continue
                records = np.zeros(rings, dtype=STL_FACE)
                records["corners"] = np.stack(corners, axis=1)
                stream.write(records.tobytes())
                count += rings
        stream.seek(80)
        stream.write(np.uint32(count).tobytes())


def huge_scan() -> None:
    """Measure a scan of ten million faces in a process of its own, for its memory."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "huge.stl"
        write_ellipsoid(path, 1e7)
        done = subprocess.run(
            [sys.executable, __file__, "--scan", str(path)],
            capture_output=True,
            text=True,
            check=True,
        )
    print(done.stdout.strip())


def measure_scan(path: Path) -> None:
    before = time.process_time()
    surface, problems = read_surface(path, path.name)
    if surface is None:
        raise SystemExit(str(problems))
    volume = sound_surface(surface).volume
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"scan of {len(surface.faces):,} faces read, proved closed, looked through and measured:"
        f" {time.process_time() - before:.1f} s, peak memory {peak_mb:.0f} MB; volume off by"
        f" {volume / (4 / 3 * np.pi * 100 * 80 * 60) - 1:.1e}"
    )


if __name__ == "__main__":
    if "--scan" in sys.argv:
        measure_scan(Path(sys.argv[-1]))
        raise SystemExit
    lofts_against_the_mesh_library()
    draws_of_mass()
    whole_bodies()
    scans()
    huge_scan()
