"""What the page of what is taken away lists: the kept runs, and what the pack waits for."""

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from bonewright.pipeline import Run

__all__ = ["KeptShown", "kept_shown", "no_body_words"]

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


def no_body_words(run: "Run | None") -> str:
    """Say why no body was grown to build a figure from; empty if there is one, or no run yet."""
    if run is None or (run.body is not None and run.body.grown is not None):
        return ""
    if run.body is None:
        return run.unanswered.get("body", "")
    return " ".join(run.body.gaps)
