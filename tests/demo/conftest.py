import tomllib
from pathlib import Path
from typing import Any

import pytest

from bonewright.pipeline import Run, run_study
from bonewright.study.load import load_study

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="session")
def demo_folder() -> Path:
    return ROOT / "demo"


@pytest.fixture(scope="session")
def truth() -> dict[str, Any]:
    text = (Path(__file__).parent / "hidden_truth.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


@pytest.fixture(scope="session")
def run(demo_folder: Path) -> Run:
    return run_study(load_study(demo_folder))
