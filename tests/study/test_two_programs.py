"""Several programs on one study: writers take turns, readers see whole steps only."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from bonewright.errors import BonewrightError
from bonewright.study.history import History
from bonewright.study.history.lock import held
from bonewright.study.snapshot import read_snapshot

SRC = Path(__file__).parents[2] / "src"
WRITER = """
import sys
from pathlib import Path
from bonewright.study.merging import merge_rows

folder, who = Path(sys.argv[1]), sys.argv[2]
for number in range(12):
    name = f"{who}-{number}"
    merge_rows(
        folder,
        {
            "specimens": [{"materialEntityID": f"bone-{name}"}],
            "measurements": [{"measurementID": f"m-{name}", "materialEntityID": f"bone-{name}"}],
        },
        what=f"Import {name}",
    )
"""
HOLDER = """
import sys, time
from pathlib import Path
from bonewright.study.history.lock import held

with held(Path(sys.argv[1])):
    print("held", flush=True)
    time.sleep(60)
"""


@contextmanager
def program(code: str, *words: str) -> Iterator[subprocess.Popen[str]]:
    process = subprocess.Popen(  # noqa: S603 - our own code
        [sys.executable, "-c", code, *words],
        env={**os.environ, "PYTHONPATH": str(SRC)},
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        yield process
    finally:
        process.kill()
        process.communicate()


def test_two_writers_lose_no_row_and_a_reader_never_sees_half_an_import(
    study_folder: Path,
) -> None:
    History(study_folder).notice()
    before = read_snapshot(study_folder).raw
    looks = 0
    with (
        program(WRITER, str(study_folder), "a") as one,
        program(WRITER, str(study_folder), "b") as two,
    ):
        while one.poll() is None or two.poll() is None:
            raw = read_snapshot(study_folder).raw
            bones = [row[0] for row in raw["specimens"].rows if "-a-" in row[0] or "-b-" in row[0]]
            measured = [row[1] for row in raw["measurements"].rows if row[1] in bones]
            assert bones == measured
            looks += 1
        assert (one.returncode, two.returncode) == (0, 0)
    after = read_snapshot(study_folder).raw
    assert len(after["specimens"].rows) == len(before["specimens"].rows) + 24
    assert len(after["measurements"].rows) == len(before["measurements"].rows) + 24
    assert looks > 5
    # Every import is a step of its own, numbered without a gap.
    steps = History(study_folder).steps()
    assert [step.number for step in steps] == list(range(1, 26))


def test_the_lock_ends_with_the_program_that_holds_it(study_folder: Path) -> None:
    with program(HOLDER, str(study_folder)) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "held\n"
        with pytest.raises(BonewrightError), held(study_folder, patience_s=0.05):
            pass
        os.kill(holder.pid, signal.SIGKILL)
        holder.wait()
        with held(study_folder, patience_s=5):
            held_again_at = time.monotonic()
    assert held_again_at
