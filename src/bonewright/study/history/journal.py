"""The journal: a line of JSON a step, only ever added to."""

import json
import os
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal, get_args

from bonewright.study.atomic import flush_folder, steadily
from bonewright.study.within import is_plain_path

__all__ = [
    "JOURNAL_FILE",
    "SETTINGS_FILES",
    "By",
    "FileChange",
    "Journal",
    "Step",
    "step_from",
    "step_line",
]

JOURNAL_FILE = "journal.jsonl"
SETTINGS_FILES = ("study.toml", "imports.toml")

_FOLDERS = ("tables", "files")
_MARK = re.compile(r"[0-9a-f]{64}|size:[0-9]{1,15}")

By = Literal["page", "command line", "import", "library", "by hand", "as found"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FileChange:
    """One file of a step: what it held before and after, None where there was no file.

    A text of 64 hexadecimal digits is the SHA-256 of a content that is kept; ``size:N`` says
    that N bytes stood there that are not.
    """

    path: str
    before: str | None
    after: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of the history.

    ``undoes`` and ``redoes`` are the numbers of the steps it takes back or does again.
    """

    number: int
    when: datetime
    what: str
    by: By
    changes: tuple[FileChange, ...]
    undoes: int | None = None
    redoes: int | None = None


def step_line(step: Step) -> str:
    """Return a step as one line of JSON, without the end of line."""
    entry: dict[str, Any] = {
        "step": step.number,
        "when": step.when.astimezone(UTC).isoformat(timespec="microseconds"),
        "by": step.by,
        "what": step.what,
    }
    if step.undoes is not None:
        entry["undoes"] = step.undoes
    if step.redoes is not None:
        entry["redoes"] = step.redoes
    entry["files"] = [
        {"path": change.path, "before": change.before, "after": change.after}
        for change in step.changes
    ]
    return json.dumps(entry, ensure_ascii=False)


def step_from(line: str | bytes) -> Step | None:
    """Read a line of the journal; None if it is no whole step.

    A study may come from anywhere: a step that names anything but a file of the study, or a
    content by anything but its mark, is no step.
    """
    try:
        entry = json.loads(line)
        if entry["by"] not in get_args(By):
            return None
        return Step(
            number=int(entry["step"]),
            when=datetime.fromisoformat(entry["when"]).astimezone(UTC),
            what=str(entry["what"]),
            by=entry["by"],
            changes=tuple(
                FileChange(
                    path=_path(file["path"]),
                    before=_mark(file["before"]),
                    after=_mark(file["after"]),
                )
                for file in entry["files"]
            ),
            undoes=entry.get("undoes"),
            redoes=entry.get("redoes"),
        )
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError, OverflowError):
        return None


def _path(value: object) -> str:
    name = str(value)
    if name not in SETTINGS_FILES and not (
        name.partition("/")[0] in _FOLDERS and "/" in name and is_plain_path(name)
    ):
        raise ValueError(name)
    return name


def _mark(value: object) -> str | None:
    if value is not None and not _MARK.fullmatch(str(value)):
        raise ValueError(value)
    return None if value is None else str(value)


class Journal:
    """The steps of a study as far as they are read; :meth:`refresh` reads what was added.

    Parameters
    ----------
    path : Path
        The journal's file; it need not exist.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._forget()

    def _forget(self) -> None:
        self._read_bytes = 0
        self._inode = 0
        self.steps: list[Step] = []
        self.state: dict[str, str] = {}
        self.damaged_lines: list[int] = []
        self._n_lines = 0

    def refresh(self) -> None:
        """Take in the lines that were added since; all of them if the file is another."""
        try:
            status = self._path.stat()
        except FileNotFoundError:
            self._forget()
            return
        if status.st_size < self._read_bytes or status.st_ino != self._inode:
            self._forget()
            self._inode = status.st_ino
        if status.st_size == self._read_bytes:
            return
        with self._path.open("rb") as file:
            file.seek(self._read_bytes)
            added = file.read()
        # A line without an end was being written when the machine stopped: it is no step.
        whole = added[: added.rfind(b"\n") + 1]
        for line in whole.splitlines():
            self._n_lines += 1
            step = step_from(line)
            if step is None or step.number <= self.last_number:
                self.damaged_lines.append(self._n_lines)
            else:
                self._take(step)
        self._read_bytes += len(whole)

    @property
    def last_number(self) -> int:
        """The number of the last step, 0 before the first."""
        return self.steps[-1].number if self.steps else 0

    def _take(self, step: Step) -> None:
        self.steps.append(step)
        _apply(self.state, step)

    def append(self, step: Step) -> None:
        """Add a step, on the disk for good. Only while the study's lock is held.

        Raises
        ------
        OSError
            If it cannot be written; the journal is then as it was.
        """
        line = (step_line(step) + "\n").encode("utf-8")
        new = not self._path.exists()

        def write() -> None:
            with self._path.open("ab") as file:
                # What a stopped machine left of a line is cut off.
                file.truncate(self._read_bytes)
                try:
                    file.write(line)
                    file.flush()
                    os.fsync(file.fileno())
                except OSError:
                    os.truncate(self._path, self._read_bytes)
                    raise
            if new:
                flush_folder(self._path.parent)

        steadily(write)
        self._inode = self._path.stat().st_ino
        self._read_bytes += len(line)
        self._n_lines += 1
        self._take(step)

    def state_after(self, number: int) -> Mapping[str, str]:
        """Return what every file held after a step: path to mark."""
        state: dict[str, str] = {}
        for step in self.steps:
            if step.number > number:
                break
            _apply(state, step)
        return state


def _apply(state: dict[str, str], step: Step) -> None:
    for change in step.changes:
        if change.after is None:
            state.pop(change.path, None)
        else:
            state[change.path] = change.after
