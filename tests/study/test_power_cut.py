"""When the power fails, what was acknowledged is on the disk, and an edit under way whole or not.

A disk keeps after a power cut only what was flushed: of a file its content at its last flush, of
a folder its entries at its own. At every flush, and after every file put in place or taken
away, the test builds what a disk could hold then, once with nothing but the flushed entries and
once with entries that went ahead of the contents, and opens it as the next user would.
"""

import importlib.util
import os
import shutil
import sys
from pathlib import Path
from types import ModuleType

import pytest

from bonewright.study.history import History

BENCH = Path(__file__).parents[2] / "benchmarks" / "bench_durability.py"


def benchmark() -> ModuleType:
    spec = importlib.util.spec_from_file_location("bench_durability", BENCH)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def entries_of(folder: Path) -> dict[str, int]:
    return {path.name: path.stat().st_ino for path in folder.iterdir()}


class Disk:
    """What of a folder would survive a power cut, told by the flushes seen so far."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.contents: dict[int, bytes] = {}
        self.entries: dict[Path, dict[str, int]] = {}
        self.held: list[int] = []
        for path in (folder, *folder.rglob("*")):
            self.flushed(os.open(path, os.O_RDONLY))

    def flushed(self, descriptor: int) -> None:
        """Take in a flush. The file is held open, so that its number is not given to another."""
        self.held.append(os.dup(descriptor))
        path = Path(f"/proc/self/fd/{descriptor}").resolve()
        if not path.is_relative_to(self.folder):
            return
        number = os.fstat(descriptor).st_ino
        if path.is_dir():
            self.entries[path] = entries_of(path)
        else:
            self.contents[number] = path.read_bytes()

    def after_power_cut(self, target: Path, *, entries_ahead: bool) -> Path:
        self._build(self.folder, target, entries_ahead=entries_ahead)
        return target

    def _build(self, source: Path, target: Path, *, entries_ahead: bool) -> None:
        target.mkdir()
        entries = self.entries.get(source, {})
        if entries_ahead and source.is_dir():
            entries = entries_of(source)
        for name, number in entries.items():
            if (source / name).is_dir():
                self._build(source / name, target / name, entries_ahead=entries_ahead)
            else:
                (target / name).write_bytes(self.contents.get(number, b""))

    def close(self) -> None:
        for descriptor in self.held:
            os.close(descriptor)


@pytest.mark.skipif(sys.platform != "linux", reason="open files are listed on Linux only")
def test_at_every_flush_the_disk_holds_the_last_acknowledged_edit_or_the_next_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench = benchmark()
    folder, undisturbed = tmp_path / "study", tmp_path / "undisturbed"
    for place in (folder, undisturbed):
        bench.make_study(place)
    disk = Disk(folder)
    states = [bench.stands(undisturbed)]
    looked = [0, 0]
    watching = [True]

    def cut() -> None:
        """Let the power fail here."""
        if not watching[0]:
            return
        watching[0] = False
        for ahead in (False, True):
            left = disk.after_power_cut(tmp_path / "left", entries_ahead=ahead)
            history = History(left)
            history.notice()
            files, steps = bench.stands(left)
            assert (files, steps) in states[-2:]
            looked[0] += 1
            looked[1] += (files, steps) == states[-1]
            for step in history.steps():
                for change in step.changes:
                    if change.after is not None:
                        history.content(change.path, change.after)
            shutil.rmtree(left)
        watching[0] = True

    real = {"fsync": os.fsync, "replace": Path.replace, "unlink": Path.unlink}

    def fsync(descriptor: int) -> None:
        cut()
        real["fsync"](descriptor)
        disk.flushed(descriptor)
        cut()

    def replace(path: Path, target: Path) -> Path:
        moved = real["replace"](path, target)
        cut()
        return moved

    def unlink(path: Path, missing_ok: bool = False) -> None:
        real["unlink"](path, missing_ok=missing_ok)
        cut()

    try:
        number = 0
        for kind in ("cell", "import", "undo", "decision", "settings", "redo", "back", "column"):
            while bench.kind_of(5, number) != kind:
                number += 1
            bench.edit(undisturbed, 5, number)
            states.append(bench.stands(undisturbed))
            with monkeypatch.context() as patch:
                patch.setattr(os, "fsync", fsync)
                patch.setattr(Path, "replace", replace)
                patch.setattr(Path, "unlink", unlink)
                bench.edit(folder, 5, number)
            # Acknowledged: from here on nothing but this state is right.
            states = states[-1:]
            cut()
            number += 1
    finally:
        disk.close()
    assert looked[0] > 100
    assert 0 < looked[1] < looked[0]
