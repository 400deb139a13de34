"""Twenty clients on one study: every acknowledged update is there at the end."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.mark.slow
def test_twenty_clients_editing_for_ten_seconds_lose_no_update() -> None:
    done = subprocess.run(  # noqa: S603 - our own benchmark
        [sys.executable, str(ROOT / "benchmarks" / "bench_clients.py"), "10", "20", "3"],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "PYTHONPATH": str(ROOT / "src")},
    )
    assert done.returncode == 0, done.stderr
    counted = json.loads(done.stdout)
    assert (counted["lost"], counted["faults"]) == (0, 0)
    assert counted["saved"] > 10
