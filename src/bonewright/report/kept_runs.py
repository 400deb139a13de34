"""Runs kept under results/runs, so that any two can be laid side by side.

A kept run is a small JSON file that names every file it was computed from by its SHA-256; the
files themselves stand once each in ``store/``, however many runs share them.
"""

import contextlib
import datetime
import hashlib
import json
import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bonewright.comparison import Inputs
from bonewright.errors import BonewrightError, StudyProblems
from bonewright.remembering import fingerprint
from bonewright.report.archive import run_facts, study_files
from bonewright.report.as_json import as_text
from bonewright.study.atomic import write_atomically
from bonewright.study.crate import open_crate
from bonewright.study.load import check_folder
from bonewright.study.snapshot import read_snapshot
from bonewright.study.within import RESULTS_FOLDER, is_plain_path, results_place, stands_within

if TYPE_CHECKING:
    from bonewright.pipeline import Run

__all__ = ["inputs_of", "keep_run", "kept_runs", "opened_run"]


def keep_run(run: "Run", folder: Path) -> str | None:
    """Keep what a run was computed from and what it found; return its name.

    The name is made from the inputs and the versions of the software: the same run again is
    kept once. None where the folder cannot be written.
    """
    try:
        store = results_place(folder, "runs", "store")
        place = store.parent
        inputs = {name: _stored(path, store) for name, path in study_files(folder)}
        facts = run_facts(run)
        name = fingerprint((inputs, facts["software"]))[:8]
        target = place / f"{name}.json"
        if not target.exists():
            kept = {
                "run": name,
                "kept": datetime.datetime.now(tz=datetime.UTC).isoformat(timespec="seconds"),
                "mass": run.verdict.mass_sentence,
                "inputs": inputs,
                **facts,
            }
            write_atomically(target, as_text(kept).encode())
    except (OSError, BonewrightError):
        return None
    return name


def _stored(path: Path, store: Path) -> str:
    with path.open("rb") as file:
        mark = hashlib.file_digest(file, "sha256").hexdigest()
    target = store / mark
    if not target.exists():
        beside = store / f".{mark}.{os.getpid()}"
        shutil.copyfile(path, beside)
        beside.replace(target)
    return mark


def kept_runs(folder: Path) -> tuple[dict[str, Any], ...]:
    """Return the kept runs of a study, the latest first."""
    found = []
    for path in folder.joinpath(RESULTS_FOLDER, "runs").glob("*.json"):
        # Spoilt by a hand, a kept run is none.
        with contextlib.suppress(OSError, ValueError, RecursionError):
            kept = json.loads(path.read_text(encoding="utf-8"))
            if _is_kept_run(kept):
                found.append(kept)
    return tuple(sorted(found, key=lambda kept: str(kept.get("kept", "")), reverse=True))


def _is_kept_run(kept: object) -> bool:
    if not isinstance(kept, dict) or not isinstance(kept.get("inputs"), dict):
        return False
    words = (kept.get("run"), kept.get("kept"), kept.get("mass"), *kept["inputs"].values())
    return all(isinstance(word, str) for word in words) and all(map(is_plain_path, kept["inputs"]))


@contextlib.contextmanager
def opened_run(name: str, *, folder: Path | None = None) -> Iterator[Inputs]:
    """Open a run by name: a study folder, an archive (.zip), or a run kept in ``folder``.

    Raises
    ------
    BonewrightError
        If there is no such run or what it was computed from is no longer whole.
    """
    path = Path(name)
    if (path / "study.toml").is_file():
        yield inputs_of(path)
        return
    with tempfile.TemporaryDirectory(prefix="bonewright-") as made:
        place = Path(made)
        if path.suffix == ".zip" and path.is_file():
            for inside, content in open_crate(path).items():
                _put(place / inside, content)
        else:
            _unpack_kept(name, folder, place)
        yield inputs_of(place)


def _unpack_kept(name: str, folder: Path | None, place: Path) -> None:
    runs = () if folder is None else kept_runs(folder)
    kept = next((run for run in runs if run.get("run") == name), None)
    if folder is None or kept is None:
        known = ", ".join(str(run.get("run")) for run in runs[:8]) or "none"
        raise BonewrightError(
            f"There is no run {name}.",
            remedy=f"Name a study folder, an archive, or a kept run. Kept runs: {known}.",
        )
    for inside, mark in kept["inputs"].items():
        source = folder.joinpath(RESULTS_FOLDER, "runs", "store", Path(mark).name)
        if not source.is_file() or not stands_within(source, folder):
            raise BonewrightError(
                f"The run {name} is no longer whole: {inside} is gone from results/runs/store.",
                remedy="Compare with another run.",
            )
        _put(place / inside, source.read_bytes())


def _put(target: Path, content: bytes) -> None:
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_bytes(content)


def inputs_of(folder: Path) -> Inputs:
    """Read what a study folder's run is computed from.

    Raises
    ------
    StudyProblems
        If the study holds problems.
    """
    snapshot = read_snapshot(folder)
    if snapshot.settings is None or snapshot.problems:
        raise StudyProblems(check_folder(folder) or snapshot.problems)
    return Inputs(raw=snapshot.raw, settings=snapshot.settings, folder=folder)
