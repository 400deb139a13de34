"""How fast a workshop pack is made, and how true its drawings and solids are.

The two commands run as a person starts them, each in a process of its own with compiled
modules at hand; seconds are of the processor and by the clock. Run it with
``python benchmarks/bench_pack.py``; what it printed last is kept in ``docs/workshop.md``.
"""

import ctypes
import io
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pypdfium2
import pypdfium2.raw as raw
import trimesh

DEMO = Path(__file__).parents[1] / "demo"
POINT_MM = 25.4 / 72
START = "from bonewright.cli import main; main()"


def made(scale: str, out: Path, cache: Path) -> tuple[float, float]:
    """Make a pack by the command; return seconds by the clock and of the processor."""
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    environment["PYTHONPYCACHEPREFIX"] = str(cache)
    before, clock = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run(
        [sys.executable, "-c", START, "pack", str(DEMO), "--scale", scale, "--out", str(out)],
        check=True,
        env=environment,
        stdout=subprocess.DEVNULL,
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return time.perf_counter() - clock, used


def path_boxes_mm(page: pypdfium2.PdfPage) -> np.ndarray:
    boxes = []
    for drawn in page.get_objects(filter=[raw.FPDF_PAGEOBJ_PATH]):
        points, matrix = [], drawn.get_matrix()
        for number in range(raw.FPDFPath_CountSegments(drawn)):
            x, y = ctypes.c_float(), ctypes.c_float()
            raw.FPDFPathSegment_GetPoint(raw.FPDFPath_GetPathSegment(drawn, number), x, y)
            points.append(matrix.on_point(x.value, y.value))
        boxes.append((*np.min(points, axis=0), *np.max(points, axis=0)))
    return POINT_MM * np.array(boxes)


def bars_off_mm(pdf: Path) -> tuple[int, float]:
    """Return how many sheets a PDF has, and how far the worst of their bars is from 100 mm."""
    document = pypdfium2.PdfDocument(pdf.read_bytes())
    worst = 0.0
    for page in document:
        boxes = path_boxes_mm(page)
        wide, high = boxes[:, 2] - boxes[:, 0], boxes[:, 3] - boxes[:, 1]
        for sizes, others in ((wide, high), (high, wide)):
            bars = sizes[others < 1e-3]
            worst = max(worst, float(np.min(np.abs(bars - 100))))
    return len(document), worst


def solids(folder: Path) -> tuple[int, int]:
    """Return how many STL files there are, and how many another library finds sound."""
    files = sorted(folder.rglob("*.stl"))
    sound = 0
    for file in files:
        mesh = trimesh.load(io.BytesIO(file.read_bytes()), file_type="stl", force="mesh")
        sound += bool(mesh.is_watertight and mesh.is_winding_consistent and mesh.volume > 0)
    return len(files), sound


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        made("4", place / "warm", place / "cache")
        total = [0.0, 0.0]
        for scale in ("4", "1"):
            out = place / f"pack-{scale}"
            clock, used = made(scale, out, place / "cache")
            total = [total[0] + clock, total[1] + used]
            print(f"bonewright pack demo --scale {scale}: {clock:.1f} s by the clock, {used:.1f} s")
            for pdf in ("drawings/drawings.pdf", "hoops/hoops.pdf"):
                sheets, worst = bars_off_mm(out / pdf)
                print(f"  {pdf}: {sheets} sheets, worst bar {worst:.4f} mm off 100 mm")
            count, sound = solids(out / "prints")
            print(f"  prints: {count} solids, {sound} watertight and wound outwards")
            size = sum(file.stat().st_size for file in out.rglob("*") if file.is_file())
            print(f"  folder: {size / 1e6:.1f} MB")
        print(f"both: {total[0]:.1f} s by the clock, {total[1]:.1f} s of the processor")


if __name__ == "__main__":
    main()
