import subprocess
import sys
from pathlib import Path

import pytest

DEMO = Path(__file__).parents[1] / "demo"

# In a process of its own: the second process is only started where no other thread runs.
BOTH_WAYS = """
import sys
from pathlib import Path
from bonewright.beside import Beside

def ready():
    import bonewright.pipeline

beside = Beside(ready)
print(beside._connection is not None)

from bonewright.pipeline import run_study
from bonewright.report.as_json import findings_json
from bonewright.study.load import load_study

study = load_study(Path(sys.argv[1]))
alone = findings_json(run_study(study))
print(findings_json(run_study(study, beside=beside)) == alone)
"""

LOST = """
import os
from bonewright.beside import Beside

beside = Beside(int)
sent = beside.start(os.getpid)
print(sent.result() != os.getpid())
failing = beside.start(int, "no number")
try:
    failing.result()
except ValueError:
    print("told here")
ended = beside.start(os._exit, 0)
beside._connection.poll(10)
try:
    beside._connection.recv()
except EOFError:
    print("gone")
print(beside.start(os.getpid).result() == os.getpid())
"""


def lines_of(script: str, *arguments: str) -> list[str]:
    command = [sys.executable, "-c", script, *arguments]
    done = subprocess.run(command, check=True, capture_output=True, text=True)  # noqa: S603
    return done.stdout.split("\n")[:-1]


def test_a_second_process_changes_no_finding() -> None:
    assert DEMO.is_dir()
    forks = str(sys.platform == "linux")
    assert lines_of(BOTH_WAYS, str(DEMO)) == [forks, "True"]


@pytest.mark.skipif(sys.platform != "linux", reason="no second process is started here")
def test_work_whose_process_fails_or_is_gone_is_done_by_the_first() -> None:
    assert lines_of(LOST)[-3:] == ["told here", "gone", "True"]
