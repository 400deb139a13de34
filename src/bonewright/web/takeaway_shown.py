"""The kept runs, as the page of what is taken away lists them."""

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

__all__ = ["KeptShown", "kept_shown"]

_MOST_RUNS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptShown:
    """A kept run: its name, and when it was kept with what mass."""

    run: str
    words: str


def kept_shown(folder: Path) -> tuple[KeptShown, ...]:
    """List the kept runs, the latest first."""
    from bonewright.report.kept_runs import kept_runs

    return tuple(
        KeptShown(run=str(kept.get("run")), words=_words(kept))
        for kept in kept_runs(folder)[:_MOST_RUNS]
    )


def _words(kept: dict[str, Any]) -> str:
    try:
        when = datetime.fromisoformat(str(kept.get("kept"))).astimezone()
    except ValueError:
        return str(kept.get("run"))
    return f"{when:%Y-%m-%d %H:%M}, run {kept.get('run')}"
