"""One thread or two: the same numbers to the last digit."""

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
PROGRAM = """
import sys
from dataclasses import replace
from pathlib import Path
from bonewright.pipeline import run_study
from bonewright.quantity import Quantity
from bonewright.remembering import fingerprint
from bonewright.study.load import load_study
study = load_study(Path(sys.argv[1]))
draws = study.settings.draws.model_copy(update={"count": 200})
run = run_study(replace(study, settings=study.settings.model_copy(update={"draws": draws})))
values = [(f.key, f.value.draws) for f in run.findings if isinstance(f.value, Quantity)]
print(len(values), fingerprint(tuple(values)))
"""


def _digits(study: Path, threads: int) -> str:
    names = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS")
    settings = {"PYTHONPATH": str(ROOT / "src"), **dict.fromkeys(names, str(threads))}
    return subprocess.run(  # noqa: S603 - our own program
        [sys.executable, "-c", PROGRAM, str(study)],
        check=True,
        capture_output=True,
        text=True,
        env={**os.environ, **settings},
    ).stdout


def test_two_threads_give_the_numbers_of_one_to_the_last_digit(
    small_folder: Path,
) -> None:
    one, two = _digits(small_folder, 1), _digits(small_folder, 2)
    assert int(one.split()[0]) > 3
    assert one == two
