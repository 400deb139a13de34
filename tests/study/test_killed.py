"""Killed at any moment, the study stands at the last acknowledged edit or one whole edit on."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="this system cannot fork")
def test_three_hundred_kills_amid_random_edits_lose_nothing() -> None:
    done = subprocess.run(  # noqa: S603 - our own benchmark
        [sys.executable, str(ROOT / "benchmarks" / "bench_durability.py"), "300", "7"],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "PYTHONPATH": str(ROOT / "src")},
    )
    assert done.returncode == 0, done.stderr
    counted = json.loads(done.stdout)
    assert counted["kills"] == 300
    assert counted["edits"] > 100
