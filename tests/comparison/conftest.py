import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from bonewright.remembering import StepMemory

DEMO = Path(__file__).parent.parent.parent / "demo"


@pytest.fixture(scope="session")
def memory() -> StepMemory:
    """Answers shared by the tests: each runs nearly the same study."""
    return StepMemory(answers_a_step=40)


@pytest.fixture
def few_draws(tmp_path: Path) -> Callable[[str], Path]:
    """Copy the demo, with few draws, under a name."""

    def copy(name: str) -> Path:
        folder = tmp_path / name
        shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("results"))
        settings = folder / "study.toml"
        text = settings.read_text(encoding="utf-8")
        assert "count = 20000" in text
        settings.write_text(text.replace("count = 20000", "count = 500"), encoding="utf-8")
        return folder

    return copy
