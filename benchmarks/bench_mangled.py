"""Mangled studies: whatever is done to the files, no traceback, no hang, no silent wrong number.

Each mutant is the demo study with one thing mangled (a table, the settings, the tree, an
outline, a picture, a scan, a link), or one mangled file of a kind that a study takes, given
to the readers as the page gives it. It is looked at in a child forked from a warm parent,
under a limit of 10 s of processor time; the child's largest memory is read when it ends.

What counts as a fault: any exception but the ones fit to show, a warning from a numeric
library that left something not finite, more than 10 s, more than 2 GB, and

* a study that loads though its file was mangled, with rows changed in another table than the
  mangled one;
* a table written another way with nothing said otherwise (rows or columns in another order,
  mm as cm, a byte-order mark) that loads as another study;
* in the sample that is run whole, a number moved out of the interval it has in the sound
  study with no doubt, caveat or missing answer that was not there before.

    python benchmarks/bench_mangled.py [MUTANTS] [SEED] [RUN_WHOLE_EVERY]

Prints one line of JSON, and each fault on its own line before; exits 1 if there was one.
"""

import contextlib
import json
import logging
import os
import random
import resource
import shutil
import signal
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from bonewright.errors import BonewrightError, StudyProblems
from bonewright.findings import Exact, RowRef
from bonewright.pipeline import Run, run_study
from bonewright.quantity import Quantity
from bonewright.remembering import StepMemory, fingerprint
from bonewright.study.crate import open_crate
from bonewright.study.darwin_core import archive_preview
from bonewright.study.faults import Fault
from bonewright.study.file_intake import kind_of
from bonewright.study.load import check_folder, load_study
from bonewright.study.model import Study
from bonewright.study.outlines import read_outline
from bonewright.study.pictures import shown_picture
from bonewright.study.section_images import read_grey
from bonewright.study.sheet_files import read_sheets
from bonewright.study.slice_stacks import open_stack
from bonewright.study.surface_files import read_surface
from bonewright.study.trees import read_study_trees
from mangled_files import sound_files
from mangled_ways import ALIKE, damaged_bytes, damaged_folder, damaged_table

DEMO = Path(__file__).resolve().parents[1] / "demo"
MOST_SECONDS = 10
MOST_SECONDS_OF_A_RUN = 60
# A wait for nothing uses no processor; a loaded machine is slow.
MOST_WALL_SECONDS = 120
MOST_MEMORY_BYTES = 2 * 2**30
N_DRAWS = 400
_MEMORY = StepMemory(answers_a_step=4)


class Silent(Exception):
    """A number is wrong and nothing says so."""


def content(value: object) -> object:
    """Return a value as plain comparable content, without the rows' places in their files."""
    if isinstance(value, RowRef):
        return (value.table, value.row_id)
    if is_dataclass(value) and not isinstance(value, type):
        return tuple(content(getattr(value, one.name)) for one in fields(value))
    if isinstance(value, float):
        return f"{value:.12g}"
    if isinstance(value, np.ndarray):
        return fingerprint(np.round(value, 9))
    if isinstance(value, tuple | list):
        return tuple(content(one) for one in value)
    if isinstance(value, frozenset):
        return tuple(sorted(map(repr, map(content, value))))
    return repr(value)


def contents(study: Study) -> dict[str, frozenset[str]]:
    """Return what each table of a study says, whatever the order of its rows."""
    made = {}
    for one in fields(study):
        value = getattr(study, one.name)
        rows = value if isinstance(value, tuple) else (value,)
        if one.name not in ("folder", "settings"):
            made[one.name] = frozenset(repr(content(row)) for row in rows)
    return made


def quick_run(study: Study) -> Run:
    draws = study.settings.draws.model_copy(update={"count": N_DRAWS})
    settings = study.settings.model_copy(update={"draws": draws})
    return run_study(replace(study, settings=settings), memory=_MEMORY)


def told(run: Run) -> set[str]:
    """Return everything in a run that warns."""
    said = {f"{d.ref.table} {d.ref.row_id} {d.column} {d.kind}" for d in run.doubts}
    said |= {f"{f.key} {c.code} {c.text}" for f in run.findings for c in f.caveats}
    said |= {f"verdict {c.code} {c.text}" for c in run.verdict.caveats}
    return said | {f"{step} {why}" for step, why in run.unanswered.items()}


def moved(sound: Run, other: Run) -> list[str]:
    """Return the findings whose middle left the interval they have in the sound study."""
    after = {finding.key: finding.value for finding in other.findings}
    gone = []
    for finding in sound.findings:
        new = after.get(finding.key)
        if isinstance(new, Exact) and not np.isfinite(new.value):
            raise Silent(f"{finding.key} is {new.value}")
        if isinstance(finding.value, Quantity) and isinstance(new, Quantity):
            low, high = finding.value.summary().interval95
            if not low <= new.summary().median <= high:
                gone.append(finding.key)
    return gone


class Bench:
    """The sound study, its run, and sound files to mangle."""

    def __init__(self, seed: int, whole_every: int) -> None:
        self.seed, self.whole_every = seed, whole_every
        self.way = "before it was mangled"
        self.study = load_study(DEMO)
        self.said = contents(self.study)
        self.run = quick_run(self.study) if whole_every else None
        self.warned = told(self.run) if self.run else set()
        self.files = sound_files(self.study)
        _load_readers(self.files)

    def look(self, number: int, room: Path) -> tuple[str, str]:
        """Make mutant ``number`` in ``room`` and look at it: the way, and what came of it."""
        chance = random.Random(f"{self.seed}-{number}")  # noqa: S311 - no secret
        if chance.random() < 0.4:
            return self._file(room, chance)
        folder = room / "study"
        shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("results", "history"))
        tables = sorted((folder / "tables").glob("*.csv"))
        files = sorted(path for path in (folder / "files").rglob("*") if path.is_file())
        draw = chance.random()
        table = ""
        if draw < 0.6:
            path = chance.choice(tables)
            table = path.stem
            way, made = damaged_table(path.read_bytes(), chance)
        elif draw < 0.9:
            path = chance.choice((*tables, *files, *[folder / "study.toml"] * 8, *files[-3:] * 3))
            table = path.stem if path.suffix == ".csv" and path.parent.name == "tables" else ""
            way, made = damaged_bytes(path.name, path.read_bytes(), chance)
        else:
            way = damaged_folder(folder, chance)
            self.way = f"folder: {way}"
            return self.way, self._study(folder, way, None, number)
        path.write_bytes(made)
        self.way = f"{path.relative_to(folder)}: {way}"
        return self.way, self._study(folder, way, table, number)

    def _study(self, folder: Path, way: str, table: str | None, number: int) -> str:
        try:
            problems = check_folder(folder)
            study = load_study(folder)
        except StudyProblems as wrong:
            _in_words(wrong)
            return "named"
        if problems:
            raise Silent("problems were found, and it loads")
        said = contents(study)
        changed = sorted(name for name in said if said[name] != self.said[name])
        if way in ALIKE and changed:
            raise Silent(f"written another way it says something else: {changed}")
        if not changed and study.settings == self.study.settings:
            return "the same study"
        if table and not _reached(table).issuperset(changed):
            raise Silent(f"{table} was mangled, and {changed} changed")
        if self.run is None or number % self.whole_every:
            return "loads as written"
        signal.alarm(0)
        resource.setrlimit(resource.RLIMIT_CPU, (MOST_SECONDS_OF_A_RUN, 2 * MOST_SECONDS_OF_A_RUN))
        run = quick_run(study)
        gone = moved(self.run, run)
        if gone and told(run) <= self.warned and "gone" not in way:
            raise Silent(f"moved without a word: {gone[:4]}")
        return "run, and told or unmoved"

    def _file(self, room: Path, chance: random.Random) -> tuple[str, str]:
        name = chance.choice(sorted(self.files))
        series = name.partition("/")[0] if "/" in name else ""
        for other, sound in self.files.items():
            if other == name or (series and other.startswith(f"{series}/")):
                (room / other).parent.mkdir(exist_ok=True)
                (room / other).write_bytes(sound)
        way, made = damaged_bytes(name, self.files[name], chance)
        path = room / name
        path.write_bytes(made)
        self.way = f"{name}: {way}"
        return self.way, read_as_the_page_does(path, room / series if series else None)


def _reached(table: str) -> set[str]:
    """Return the parts of a study that a table may change: itself, and what is read from it."""
    reached = {
        "units": {"claims"},
        "landmarks": {"pictures"},
        "pictures": {"picture_marks", "landmarks"},
        "decisions": {"kept", "set_aside", "line_decisions"},
        "relatives": {"trees"},
    }
    return {table} | reached.get(table, set())


def _in_words(wrong: BonewrightError) -> None:
    """Hold an error to being fit to show."""
    if not wrong.message.strip():
        raise Silent("an error without words")
    for problem in wrong.problems if isinstance(wrong, StudyProblems) else ():
        if not (problem.file and problem.found and problem.expected and problem.mend):
            raise Silent(f"a problem that does not say all: {problem}")
        if "Traceback" in problem.sentence() or len(problem.sentence()) > 3000:
            raise Silent(f"a problem too long to read: {problem.sentence()[:200]}")


def read_as_the_page_does(path: Path, series: Path | None) -> str:
    """Ask what the file is, then read it as that kind."""
    try:
        kind = kind_of(path, path.name, of_stack=series is not None)
        if kind == "spreadsheet":
            read_sheets(path)
        elif kind == "archive":
            with contextlib.suppress(BonewrightError):
                archive_preview(DEMO, path)
            open_crate(path)
        elif kind == "scan":
            surface, _ = read_surface(path, path.name)
            _hold_finite(surface.vertices if surface else 0.0)
        elif kind == "picture":
            shown = shown_picture(path, longest_px=600)
            if isinstance(shown, Fault):
                return "named"
            if path.suffix in (".tif", ".tiff") and "picture" not in path.name:
                stack = open_stack(path, path.name, pixel_mm=0.1, between_slices_mm=0.5)
                _hold_finite(stack.sample())
            else:
                _hold_finite(read_grey(path, path.name))
        elif kind == "slices":
            stack = open_stack(series or path, "series")
            _hold_finite(stack.sample())
        elif kind == "outline":
            rings, _ = read_outline(path, path.name)
            _hold_finite([point for ring in rings for point in ring])
        else:
            trees, _ = read_study_trees(path, path.name)
            _hold_finite([length for tree in trees for length in tree.length])
    except BonewrightError as wrong:
        _in_words(wrong)
        return "named"
    return f"read as {kind}"


def _hold_finite(values: Any) -> None:
    if not np.all(np.isfinite(np.asarray(values, dtype=np.float64))):
        raise Silent("something not finite was read as a number")


def _load_readers(files: dict[str, bytes]) -> None:
    """Read every sound file once: libraries load, and what is sound must be read."""
    with tempfile.TemporaryDirectory() as room:
        for name, sound in files.items():
            path = Path(room) / name
            path.parent.mkdir(exist_ok=True)
            path.write_bytes(sound)
        for name in files:
            series = Path(room) / name.partition("/")[0] if "/" in name else None
            came = read_as_the_page_does(Path(room) / name, series)
            if came == "named" and name not in ("crate.zip", "collection.zip"):
                raise SystemExit(f"{name} is sound and was refused")


def in_a_child(bench: Bench, number: int) -> tuple[str, str, float, int]:
    """Look at one mutant in a child: the way, what came of it, seconds, largest memory."""
    room = Path(tempfile.mkdtemp(prefix="mangled-"))
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        signal.alarm(MOST_WALL_SECONDS)
        resource.setrlimit(resource.RLIMIT_CPU, (MOST_SECONDS, 2 * MOST_SECONDS_OF_A_RUN))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        try:
            answer = bench.look(number, room)
        except BaseException:  # what nobody foresaw is what is looked for
            answer = (bench.way, "FAULT " + traceback.format_exc(limit=-6))
        # An error may hold a whole cell: its beginning and its end say what it was.
        told = [
            text if len(text) < 4000 else f"{text[:2000]} ... {text[-1500:]}" for text in answer
        ]
        os.write(writing, json.dumps(told).encode())
        os._exit(0)
    os.close(writing)
    with os.fdopen(reading, "rb") as pipe:
        text = pipe.read()
    _, status, used = os.wait4(child, 0)
    shutil.rmtree(room, ignore_errors=True)
    seconds = used.ru_utime + used.ru_stime
    way, came = (
        json.loads(text) if text else ("?", f"FAULT ended by {status} after {seconds:.1f} s")
    )
    if used.ru_maxrss * 1024 > MOST_MEMORY_BYTES:
        came = f"FAULT {used.ru_maxrss / 2**20:.1f} GB"
    return way, came, seconds, used.ru_maxrss * 1024


def main(mutants: int, seed: int, whole_every: int, first: int = 0) -> int:
    warnings.simplefilter("ignore")
    logging.disable(logging.CRITICAL)
    begun = time.perf_counter()
    bench = Bench(seed, whole_every)
    outcomes: Counter[str] = Counter()
    slowest, largest, faults = 0.0, 0, 0
    for number in range(first, first + mutants):
        way, came, seconds, memory = in_a_child(bench, number)
        if not came.startswith("run"):
            slowest = max(slowest, seconds)
        largest = max(largest, memory)
        if came.startswith("FAULT"):
            faults += 1
            print(f"mutant {number} of seed {seed}: {way}: {came}", file=sys.stderr)
        outcomes[came.split(" ")[0] if came.startswith("FAULT") else came] += 1
    print(
        json.dumps(
            {
                "mutants": mutants,
                "seed": seed,
                "faults": faults,
                "outcomes": dict(outcomes.most_common()),
                "slowest_reading_cpu_s": round(slowest, 2),
                "largest_memory_mb": round(largest / 2**20),
                "wall_s": round(time.perf_counter() - begun),
            }
        )
    )
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(
        main(*(int(one) for one in [*sys.argv[1:], *("10000", "1", "40")[len(sys.argv) - 1 :]]))
    )
