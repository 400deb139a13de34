"""How fast and how exact sections are measured from voxels, side by side with a reference.

Run ``python benchmarks/bench_sections.py`` (about five minutes; ``--quick`` for a look). It
prints the tables and writes them to ``docs/sections-accuracy.md``.

The reference for speed is the fastest route to a picture's bare second moments that a
general image library offers: OpenCV's ``moments`` (``pip install opencv-python-headless``;
scikit-image's ``moments`` is measured beside it). It is left out where it is not installed.
All on one thread; time is processor time, least of several rounds, so that
other work on the machine does not count; from disk it is time by the clock.
"""

import argparse
import os
import platform
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from time import perf_counter, process_time
from typing import Any

# One thread everywhere: a library that hands its sums to several would look slower by
# processor time. NumPy reads it when it is imported.
os.environ["OMP_NUM_THREADS"] = os.environ["OPENBLAS_NUM_THREADS"] = "1"

import numpy as np
from numpy.typing import NDArray

from bonewright.sections.ellipse import hollow_ellipse
from bonewright.sections.resliced import section_scanned_bone
from bonewright.sections.threshold import choose_threshold
from bonewright.sections.voxels import voxel_properties
from bonewright.study.slice_stacks import open_stack

DOCUMENT = Path(__file__).parents[1] / "docs" / "sections-accuracy.md"
SIDE = 1000
ROUNDS = 3


def ring_slices(n_slices: int) -> NDArray[np.uint8]:
    """Make slices of a hollow, turning, tapering bone: 200 in bone, 20 outside."""
    y, x = np.mgrid[:SIDE, :SIDE] - (SIDE - 1) / 2.0
    stack = np.empty((n_slices, SIDE, SIDE), dtype=np.uint8)
    for index in range(n_slices):
        turn, size = index / n_slices, 1 - 0.3 * index / n_slices
        across, along = (
            x * np.cos(turn) + y * np.sin(turn),
            y * np.cos(turn) - x * np.sin(turn),
        )
        outer = (across / (430 * size)) ** 2 + (along / (380 * size)) ** 2 < 1
        inner = ((across - 15) / (330 * size)) ** 2 + (along / (290 * size)) ** 2 < 1
        stack[index] = np.where(outer & ~inner, 200, 20)
    return stack


def least_ms(
    work: Callable[[], object], n_slices: int, *, clock: Callable[[], float] = process_time
) -> float:
    """Return the least processor time of several rounds, in ms a slice."""
    best = np.inf
    for _ in range(ROUNDS):
        before = clock()
        work()
        best = min(best, clock() - before)
    return 1000 * best / n_slices


def speed(n_slices: int) -> list[str]:
    """Compare all properties with bare moments and with reading the data."""
    stack = ring_slices(n_slices)
    noise = np.random.default_rng(1).normal(0, 12, (4, SIDE, SIDE))
    noisy = np.empty_like(stack)
    for index, one in enumerate(stack):
        noisy[index] = np.clip(one + noise[index % 4], 0, 255)
    times: dict[str, float] = {}
    try:
        import cv2

        cv2.setNumThreads(1)
        times[f"OpenCV {cv2.__version__} moments, grey values: bare moments"] = least_ms(
            lambda: [cv2.moments(one) for one in stack], n_slices
        )
    except ImportError:
        print("OpenCV is not installed: its row is left out.")
    import skimage
    import skimage.measure

    few: Any = stack[:20]
    moments: Any = skimage.measure.moments
    times[f"scikit-image {skimage.__version__} moments, order 2 (20 slices)"] = least_ms(
        lambda: [moments(one, order=2) for one in few], len(few)
    )
    times["ours, all properties, mask"] = least_ms(
        lambda: voxel_properties(stack, threshold=110, pixel_mm=(0.03, 0.03)), n_slices
    )
    times["ours, all properties, grey with edges within voxels"] = least_ms(
        lambda: voxel_properties(stack, threshold=110, pixel_mm=(0.03, 0.03), within_voxels=True),
        n_slices,
    )
    times["ours, the same with noise of 12 grey values"] = least_ms(
        lambda: voxel_properties(noisy, threshold=110, pixel_mm=(0.03, 0.03), within_voxels=True),
        n_slices,
    )
    with tempfile.TemporaryDirectory() as folder:
        raw, packed = Path(folder) / "stack.raw", Path(folder) / "stack.tif"
        stack.tofile(raw)
        import tifffile

        tifffile.imwrite(packed, stack[:50], compression="zlib", photometric="minisblack")
        times["reading: the file from disk, by the clock"] = least_ms(
            lambda: _from_disk(raw), n_slices, clock=perf_counter
        )
        times["reading: the file, in memory before, into new memory"] = least_ms(
            lambda: np.fromfile(raw, dtype=np.uint8), n_slices
        )
        times["reading: slice after slice over the one before"] = least_ms(
            lambda: _read_raw(raw, n_slices), n_slices
        )
        plain = Path(folder) / "plain.tif"
        tifffile.imwrite(plain, stack, photometric="minisblack", contiguous=False)
        times["reading: pages of a plain TIFF (100 slices)"] = least_ms(
            lambda: [tifffile.imread(plain, key=page) for page in range(100)], 100
        )
        times["reading: pages of a zlib TIFF (50 slices)"] = least_ms(
            lambda: [tifffile.imread(packed, key=page) for page in range(50)], 50
        )
    lines = ["| what | ms a slice |", "|---|---|"]
    lines += [f"| {name} | {value:.3f} |" for name, value in times.items()]
    ours = times["ours, all properties, mask"]
    for name, value in times.items():
        if name.startswith(("OpenCV", "scikit", "reading")):
            words = name.removesuffix(": bare moments")
            lines.append(f"| ours (mask) over {words} | {ours / value:.2f} x |")
    return lines


def _from_disk(path: Path) -> None:
    """Read a file that the system no longer holds in memory, 50 slices at a time."""
    with path.open("rb", buffering=0) as stream:
        os.fsync(stream.fileno())
        os.posix_fadvise(stream.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
        few = np.empty((50, SIDE, SIDE), dtype=np.uint8)
        while stream.readinto(few):  # type: ignore[arg-type]
            pass


def _read_raw(path: Path, n_slices: int) -> None:
    slice_ = np.empty((SIDE, SIDE), dtype=np.uint8)
    with path.open("rb", buffering=0) as stream:
        for _ in range(n_slices):
            stream.readinto(slice_)  # type: ignore[arg-type]


def write_big_stack(path: Path, gigabytes: float) -> int:
    """Write a tilted hollow cylinder of 16-bit voxels, slice by slice; return slices."""
    side = 1000
    n_slices = int(gigabytes * 1e9 / (side * side * 2))
    y, x = np.mgrid[:side, :side].astype(np.float32)
    rng = np.random.default_rng(7)
    noise = rng.normal(0, 60, (4, side, side)).astype(np.float32)
    import tifffile

    def slices() -> Any:
        for index in range(n_slices):
            shift = (index - n_slices / 2) * 0.12
            r = np.hypot(x - 500 - shift, (y - 500) * 1.15)
            bone = np.clip(300.5 - r, 0, 1) - np.clip(220.5 - r, 0, 1)
            yield (1000 + 3000 * bone + noise[index % 4]).astype(np.uint16)

    tifffile.imwrite(
        path,
        slices(),
        shape=(n_slices, side, side),
        dtype=np.uint16,
        photometric="minisblack",
        bigtiff=True,
    )
    return n_slices


def big_stack(gigabytes: float) -> list[str]:
    """Cut a stack larger than the memory allowed, in a process of its own."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "big.tif"
        n_slices = write_big_stack(path, gigabytes)
        done = subprocess.run(
            [sys.executable, __file__, "--cut", str(path)],
            capture_output=True,
            text=True,
            check=True,
            env=os.environ,
        )
    seconds, peak_mb, modulus, expected = (float(word) for word in done.stdout.split())
    return [
        f"A stack of {n_slices} slices of 1,000 x 1,000 16-bit voxels ({gigabytes:g} GB), the"
        f" bone 6.8 degrees aslant: 99 sections in {seconds:.0f} s of processor time, peak memory"
        f" {peak_mb:.0f} MB; section modulus at mid-length off by"
        f" {100 * (modulus / expected - 1):+.2f} %."
    ]


def cut_one(path: Path) -> None:
    stack = open_stack(path, path.name, pixel_mm=0.05, between_slices_mm=0.05)
    threshold = choose_threshold(stack.sample(), "half-maximum")
    bone = section_scanned_bone(stack, threshold)
    # The cylinder is round in its own cross-section but for the stretch of its slices.
    tilt = np.cos(np.arctan(0.12))
    expected = hollow_ellipse(
        600 * 0.05 * tilt,
        600 / 1.15 * 0.05,
        inner_mediolateral_mm=440 * 0.05 * tilt,
        inner_anteroposterior_mm=440 / 1.15 * 0.05,
    )
    peak_mb = _peak_mb()
    print(
        process_time(),
        peak_mb,
        bone.properties.section_modulus_mediolateral_mm3[49],
        expected.section_modulus_mediolateral_mm3,
    )


def _peak_mb() -> float:
    """Return this process's greatest resident memory (Linux; the parent's does not count)."""
    for line in Path("/proc/self/status").read_text(encoding="ascii").splitlines():
        if line.startswith("VmHWM:"):
            return int(line.split()[1]) / 1024
    return float("nan")


def rasters() -> list[str]:
    """Measure ellipses and tubes 100 pixels across, wherever they fall on the grid."""
    rng = np.random.default_rng(5)
    shapes = {
        "circle": (50, 50, 0, 0, (0, 0)),
        "annulus": (50, 50, 35, 35, (0, 0)),
        "ellipse": (50, 40, 0, 0, (0, 0)),
        "hollow ellipse": (50, 40, 35, 25, (0, 0)),
        "eccentric hole": (50, 50, 30, 30, (12, 5)),
    }
    measures = ("area_mm2", "second_moment_mediolateral_mm4", "section_modulus_mediolateral_mm3")
    lines = [
        "| shape, 100 pixels across, 200 places on the grid | picture | area | second moment |"
        " section modulus |",
        "|---|---|---|---|---|",
    ]
    for name, (a, b, a1, b1, offset) in shapes.items():
        exact = hollow_ellipse(
            2 * a,
            2 * b,
            inner_mediolateral_mm=2 * a1,
            inner_anteroposterior_mm=2 * b1,
            hole_offset_mm=offset,
        )
        for finer, words in ((1, "black and white"), (5, "grey, as a camera sees it")):
            errors = []
            for _ in range(200):
                picture = _raster(
                    a, b, (a1, b1), offset, shift=rng.uniform(-0.5, 0.5, 2), finer=finer
                )
                found = voxel_properties(
                    picture[None], threshold=0.5, pixel_mm=(1, 1), within_voxels=finer > 1
                ).section(0)
                errors.append([getattr(found, m) / getattr(exact, m) - 1 for m in measures])
            worst = 100 * np.abs(errors).max(axis=0)
            typical = 100 * np.sqrt(np.mean(np.square(errors), axis=0))
            cells = " | ".join(f"{t:.2f} % ({w:.2f})" for t, w in zip(typical, worst, strict=True))
            lines.append(f"| {name} | {words} | {cells} |")
    return lines


def _raster(
    a: float,
    b: float,
    hole: tuple[float, float],
    offset: tuple[float, float],
    *,
    shift: NDArray[np.float64],
    finer: int,
) -> NDArray[np.float64]:
    n = 112
    axis = (np.arange(n * finer) + 0.5) / finer - 0.5 - (n - 1) / 2
    x, y = axis[None, :] - shift[0], -axis[:, None] - shift[1]
    bone = (x / a) ** 2 + (y / b) ** 2 < 1
    if hole[0]:
        bone &= ((x - offset[0]) / hole[0]) ** 2 + ((y - offset[1]) / hole[1]) ** 2 >= 1
    return bone.reshape(n, finer, n, finer).mean(axis=(1, 3))


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--quick", action="store_true")
    options.add_argument("--cut", type=Path)
    chosen = options.parse_args()
    if chosen.cut is not None:
        cut_one(chosen.cut)
        return
    n_slices, gigabytes = (100, 0.4) if chosen.quick else (1000, 4.0)
    lines = [
        "# Sections from voxels: how fast, how exact",
        "",
        f"Written by `benchmarks/bench_sections.py` on {platform.machine()}, Python"
        f" {platform.python_version()}, NumPy {np.__version__}, one thread.",
        "",
        f"## {n_slices} slices of 1,000 x 1,000 voxels (8 bit)",
        "",
        *speed(n_slices),
        "",
        "All properties: area, centroid, second moments about anatomical and principal axes,"
        " polar moment, four section moduli from the extreme fibre, farthest fibre, whole area,"
        " mean perimeter (hence K, cortical share, thin-wall torsion).",
        "",
        "Reading once is four things: from the disk, into new memory, page by page of a TIFF, or"
        " over and over into one slice's memory, which no use of the data can match.",
        "",
        "## A stack larger than memory",
        "",
        *big_stack(gigabytes),
        "",
        "## Known shapes",
        "",
        "Root mean square error, worst in brackets.",
        "",
        *rasters(),
        "",
    ]
    print("\n".join(lines))
    if not chosen.quick:
        DOCUMENT.write_text("\n".join(lines), encoding="utf-8")


if __name__ == "__main__":
    main()
