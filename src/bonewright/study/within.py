"""Whether a path stays inside a folder when every link on it is followed."""

from pathlib import Path

__all__ = ["stands_within"]


def stands_within(path: Path, folder: Path) -> bool:
    """Say whether a path leads to a place inside the folder; a link to itself leads nowhere."""
    try:
        return path.resolve().is_relative_to(folder.resolve())
    except (OSError, RuntimeError, ValueError):
        return False
