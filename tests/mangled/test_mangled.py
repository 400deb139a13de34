"""Whatever is done to the files of a study: no traceback, no hang, no silent wrong number."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.mark.slow
@pytest.mark.timeout(1200)
@pytest.mark.skipif(not hasattr(os, "fork"), reason="this system cannot fork")
def test_five_hundred_mangled_studies_are_named_or_give_what_the_sound_one_gives() -> None:
    done = subprocess.run(  # noqa: S603 - our own benchmark
        [sys.executable, str(ROOT / "benchmarks" / "bench_mangled.py"), "500", "11", "125"],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "PYTHONPATH": str(ROOT / "src"), "OMP_NUM_THREADS": "1"},
    )
    assert done.returncode == 0, done.stderr[-4000:]
    counted = json.loads(done.stdout.splitlines()[-1])
    assert counted["mutants"] == 500
    assert counted["faults"] == 0
    assert counted["outcomes"]["named"] > 250
    assert counted["largest_memory_mb"] < 2048
