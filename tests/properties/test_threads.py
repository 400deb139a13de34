"""One thread or two: the same numbers to the last digit. Another processor: to nine digits."""

import json
import os
import platform
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

ROOT = Path(__file__).parents[2]
PROGRAM = """
import json, sys
from dataclasses import replace
from pathlib import Path
from bonewright.findings import Exact
from bonewright.pipeline import run_study
from bonewright.quantity import Quantity
from bonewright.remembering import fingerprint
from bonewright.study.load import load_study
study = load_study(Path(sys.argv[1]))
draws = study.settings.draws.model_copy(update={"count": 200})
run = run_study(replace(study, settings=study.settings.model_copy(update={"draws": draws})))
values = [(f.key, f.value.draws) for f in run.findings if isinstance(f.value, Quantity)]
print(len(values), fingerprint(tuple(values)))
def said(value):
    if isinstance(value, Quantity):
        told = value.summary()
        return [told.median, told.mean, told.sd, *told.interval50, *told.interval95]
    return [value.value] if isinstance(value, Exact) else value.text
print(json.dumps({f.key: said(f.value) for f in run.findings}))
"""


_NEWER = "AVX2 FMA3 AVX512F AVX512_SKX"


def _told(study: Path, *, threads: int = 1, **settings: str) -> tuple[str, dict[str, Any]]:
    """Run a study in a program of its own: the fingerprint of its draws, and what it finds."""
    names = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS")
    whole = {"PYTHONPATH": str(ROOT / "src"), **dict.fromkeys(names, str(threads)), **settings}
    said = subprocess.run(  # noqa: S603 - our own program
        [sys.executable, "-c", PROGRAM, str(study)],
        check=True,
        capture_output=True,
        text=True,
        env={**os.environ, **whole},
    ).stdout
    mark, _, found = said.partition("\n")
    assert int(mark.split()[0]) > 3
    return mark, json.loads(found)


def test_two_threads_give_the_numbers_of_one_to_the_last_digit(small_folder: Path) -> None:
    assert _told(small_folder)[0] == _told(small_folder, threads=2)[0]


@pytest.mark.skipif(
    platform.machine().lower() not in ("x86_64", "amd64"), reason="the kinds are those of x86"
)
def test_a_processor_of_twenty_years_ago_gives_the_same_numbers_to_nine_digits(
    small_folder: Path,
) -> None:
    """Whole vectors of sums are added in another order there; docs/trust.md has the demo's."""
    here = _told(small_folder)[1]
    old = _told(small_folder, OPENBLAS_CORETYPE="Prescott", NPY_DISABLE_CPU_FEATURES=_NEWER)[1]
    assert old.keys() == here.keys()
    for key, found in here.items():
        if isinstance(found, str):
            assert old[key] == found
        else:
            close = 1e-9 * max(map(abs, found))
            np.testing.assert_allclose(old[key], found, rtol=1e-9, atol=close, err_msg=key)
