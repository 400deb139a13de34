"""Write a step whole or not at all, notice what others changed, and go back."""

import contextlib
import threading
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from bonewright.errors import BonewrightError
from bonewright.study.atomic import (
    flush_folder,
    make_folder,
    prepare_beside,
    put_in_place,
    write_atomically,
)
from bonewright.study.disk_faults import not_saved
from bonewright.study.history.going_back import last_undoable, last_undone, listed_files
from bonewright.study.history.journal import (
    JOURNAL_FILE,
    By,
    FileChange,
    Journal,
    Step,
    step_from,
    step_line,
)
from bonewright.study.history.kept_files import Standing, is_kept
from bonewright.study.history.lock import held
from bonewright.study.history.versions import Versions
from bonewright.study.within import stands_within

__all__ = ["HISTORY_FOLDER", "PENDING_FILE", "ChangedOnDisk", "History", "Restored"]

HISTORY_FOLDER = "history"
PENDING_FILE = "pending.json"


class ChangedOnDisk(BonewrightError):
    """The file was changed by someone else since it was read; nothing was written."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Restored:
    """What came of going back. ``left`` names files whose earlier content is not kept.

    ``step`` is None where nothing had to be changed.
    """

    step: Step | None
    left: tuple[str, ...]


class History:
    """The history of one study. Every method may be called from any thread.

    Parameters
    ----------
    folder : Path
        The study folder. Nothing is written before the first step.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._place = folder / HISTORY_FOLDER
        self._journal = Journal(self._place / JOURNAL_FILE)
        self._versions = Versions(self._place / "versions")
        self._standing = Standing(folder)
        self._threads = threading.RLock()
        self._swept = False

    def steps(self) -> tuple[Step, ...]:
        """Return every step, the earliest first."""
        with self._threads:
            self._journal.refresh()
            return tuple(self._journal.steps)

    def damaged_lines(self) -> tuple[int, ...]:
        """Return the lines of the journal that are no step: somebody edited it."""
        with self._threads:
            self._journal.refresh()
            return tuple(self._journal.damaged_lines)

    def settle(self) -> None:
        """Finish a step that was cut off half way, if there is one.

        Raises
        ------
        BonewrightError
            If it cannot be finished now.
        """
        with self._writing():
            pass

    def notice(self, *, by: By = "by hand", what: str | None = None) -> Step | None:
        """Take what was changed outside the history into it; None if nothing was.

        The first time it takes in the study as it is found.

        Raises
        ------
        NotSaved
            If the history cannot be written.
        """
        with self._writing():
            return self._notice(by=by, what=what)

    def commit(
        self,
        contents: Mapping[str, bytes | None],
        *,
        what: str,
        by: By,
        expected: Mapping[str, str | None] | None = None,
    ) -> Step | None:
        """Write files of the study as one step: all of them or none.

        Parameters
        ----------
        contents : mapping of path to bytes
            By their path in the study, with ``/``; None takes the file away. They are put
            in place in this order.
        what : str
            The step in one sentence.
        by : By
        expected : mapping of path to str, optional
            SHA-256 of what must stand there now, None for no file.

        Returns
        -------
        Step or None
            None if every file held that already.

        Raises
        ------
        ChangedOnDisk
            If a file is not what was expected; nothing is written.
        NotSaved
            If the disk does not take it; nothing is changed.
        """
        for path, content in contents.items():
            if content is not None and not is_kept(path, len(content)):
                raise BonewrightError(
                    f"{path} is too large or of no kind that the history keeps.",
                    remedy="Put it into the study's files folder by hand.",
                )
        with self._writing():
            self._notice()
            for path, mark in (expected or {}).items():
                if self._journal.state.get(path) != mark:
                    raise ChangedOnDisk(
                        f"{path} was changed on disk since it was read here.",
                        remedy="Nothing was written. Read it again, compare, and make your"
                        " changes once more.",
                    )
            return self._write(contents, what=what, by=by)

    def undo(self, *, by: By, number: int | None = None) -> Restored:
        """Take back the last step that was not taken back yet.

        Parameters
        ----------
        by : By
        number : int, optional
            The step that is meant: refused if another came after it.

        Raises
        ------
        BonewrightError
            If there is none, or it is another.
        """
        with self._writing():
            self._notice()
            step = self._meant(last_undoable(self._journal.steps), number, "take back")
            before = {change.path: change.before for change in step.changes}
            return self._return_to(
                before, what=f"Took back step {step.number}: {step.what}", by=by, undoes=step.number
            )

    def redo(self, *, by: By, number: int | None = None) -> Restored:
        """Do the step again that was taken back last; see :meth:`undo`."""
        with self._writing():
            self._notice()
            step = self._meant(last_undone(self._journal.steps), number, "do again")
            after = {change.path: change.after for change in step.changes}
            return self._return_to(
                after, what=f"Did step {step.number} again: {step.what}", by=by, redoes=step.number
            )

    def restore(self, number: int, *, by: By) -> Restored:
        """Take the whole study back to how it stood after a step. This is a step too.

        Raises
        ------
        BonewrightError
            If there is no such step, or a version is gone.
        """
        with self._writing():
            self._notice()
            step = next((s for s in self._journal.steps if s.number == number), None)
            if step is None:
                raise BonewrightError(
                    f"There is no step {number} in the history.",
                    remedy="See the steps with: bonewright history FOLDER",
                )
            then, now = self._journal.state_after(number), self._journal.state
            paths = [path for path in {**then, **now} if then.get(path) != now.get(path)]
            when = step.when.astimezone().strftime("%Y-%m-%d %H:%M:%S")
            return self._return_to(
                {path: then.get(path) for path in sorted(paths)},
                what=f"Went back to how it stood after step {number} ({when})",
                by=by,
            )

    def content(self, path: str, mark: str) -> bytes:
        """Return what a file held at a step; see :class:`FileChange`."""
        return self._versions.content(path, mark)

    def _meant(self, step: Step | None, number: int | None, act: str) -> Step:
        if step is None:
            raise BonewrightError(
                f"There is no step to {act}.", remedy="The history shows what was done."
            )
        if number is not None and step.number != number:
            raise ChangedOnDisk(
                f"Step {number} is not the next to {act}: it is step {step.number}, {step.what}.",
                remedy="Look at the history again, then choose.",
            )
        return step

    @contextlib.contextmanager
    def _writing(self) -> Iterator[None]:
        """Hold the lock, with every earlier step finished and the journal read."""
        with self._threads, held(self.folder):
            try:
                self._journal.refresh()
                self._finish_pending()
                self._sweep()
            except OSError as error:
                raise not_saved(HISTORY_FOLDER, error, folder=self.folder) from error
            yield

    def _sweep(self) -> None:
        """Take away, once, what a stopped program had laid down and not decided on."""
        if self._swept:
            return
        self._swept = True
        if not all(stands_within(self.folder / name, self.folder) for name in ("tables", "files")):
            return
        for place, pattern in (
            (self._place, ".*.part"),
            (self.folder / "tables", ".*.part"),
            (self.folder / "files", "**/.*.part"),
        ):
            for left in place.glob(pattern):
                left.unlink(missing_ok=True)

    def _next(self, *, what: str, by: By, changes: tuple[FileChange, ...]) -> Step:
        now = datetime.now(UTC)
        steps = self._journal.steps
        # A clock that was set back must not put a step before an earlier one.
        when = max(now, steps[-1].when) if steps else now
        number = self._journal.last_number + 1
        return Step(number=number, when=when, what=what, by=by, changes=changes)

    def _notice(self, *, by: By = "by hand", what: str | None = None) -> Step | None:
        first = not self._journal.steps
        try:
            now, contents = self._standing.marks()
            known = self._journal.state
            changes = tuple(
                FileChange(path=path, before=known.get(path), after=now.get(path))
                for path in {**known, **now}
                if known.get(path) != now.get(path)
            )
            if not changes:
                return None
            for change in changes:
                if change.path in contents:
                    self._versions.keep(change.path, contents[change.path])
            if first:
                by, what = "as found", "The study as it was found"
            words = what or f"Changed outside the program: {listed_files(changes)}"
            step = self._next(what=words, by=by, changes=changes)
            self._journal.append(step)
        except OSError as error:
            raise not_saved(HISTORY_FOLDER, error, folder=self.folder) from error
        return step

    def _return_to(
        self,
        marks: Mapping[str, str | None],
        *,
        what: str,
        by: By,
        undoes: int | None = None,
        redoes: int | None = None,
    ) -> Restored:
        contents: dict[str, bytes | None] = {}
        left: list[str] = []
        for path, mark in marks.items():
            now = self._journal.state.get(path)
            if (mark or "").startswith("size:") or (now or "").startswith("size:"):
                left.append(path)
            else:
                contents[path] = None if mark is None else self._versions.content(path, mark)
        if left and not contents:
            raise BonewrightError(
                f"The earlier content of {', '.join(left[:3])} is not kept: it is a picture or a"
                " scan.",
                remedy="Put the earlier file back from where it came.",
            )
        step = self._write(contents, what=what, by=by, undoes=undoes, redoes=redoes)
        return Restored(step=step, left=tuple(left))

    def _write(
        self,
        contents: Mapping[str, bytes | None],
        *,
        what: str,
        by: By,
        undoes: int | None = None,
        redoes: int | None = None,
    ) -> Step | None:
        """Lay down what a step will write, decide, put it in place, and enter it."""
        known = self._journal.state
        laid: dict[str, Path] = {}
        pending = self._place / PENDING_FILE
        file = next(iter(contents), HISTORY_FOLDER)
        try:
            changes: list[FileChange] = []
            for path, content in contents.items():
                file = path
                mark = None if content is None else self._versions.keep(path, content)
                if mark == known.get(path):
                    continue
                changes.append(FileChange(path=path, before=known.get(path), after=mark))
                target = self._target(path)
                if content is not None:
                    make_folder(target.parent)
                    laid[path] = prepare_beside(target, content)
            if not changes:
                return None
            step = self._next(what=what, by=by, changes=tuple(changes))
            step = replace(step, undoes=undoes, redoes=redoes)
            write_atomically(pending, (step_line(step) + "\n").encode("utf-8"))
        except OSError as error:
            for part in laid.values():
                part.unlink(missing_ok=True)
            with contextlib.suppress(OSError):
                pending.unlink(missing_ok=True)
            raise not_saved(file, error, folder=self.folder) from error
        self._put(step, laid)
        return step

    def _target(self, path: str) -> Path:
        """Return where a file of the study stands, refusing to go where a link leads out."""
        target = self.folder / path
        if not stands_within(target.parent, self.folder):
            raise BonewrightError(
                f"{path} stands behind a link to a place outside the study folder, so it is not"
                " written.",
                remedy="Copy the folder itself into the study, in place of the link.",
            )
        return target

    def _put(self, step: Step, laid: dict[str, Path]) -> None:
        """Put a decided step in place; if a file cannot be replaced, take all of it back."""
        changed: list[FileChange] = []
        for change in step.changes:
            target = self._target(change.path)
            try:
                changed.append(change)
                if change.path in laid:
                    put_in_place(laid.pop(change.path), target)
                else:
                    target.unlink(missing_ok=True)
            except OSError as error:
                for part in laid.values():
                    part.unlink(missing_ok=True)
                # Should this fail as well, the step stays decided and is finished at the
                # next opening: never half of it.
                self._put_back(changed[:-1])
                raise not_saved(change.path, error, folder=self.folder) from error
        with contextlib.suppress(OSError):
            self._enter(step)

    def _put_back(self, changes: list[FileChange]) -> None:
        with contextlib.suppress(OSError, BonewrightError):
            for change in changes:
                self._make_hold(change.path, change.before)
            (self._place / PENDING_FILE).unlink()
            flush_folder(self._place)

    def _enter(self, step: Step) -> None:
        """Enter a step that is in place in the journal. A full disk only puts this off."""
        for parent in {(self.folder / change.path).parent for change in step.changes}:
            flush_folder(parent)
        self._journal.append(step)
        (self._place / PENDING_FILE).unlink(missing_ok=True)

    def _finish_pending(self) -> None:
        """Finish the step that a stopped program had decided on."""
        pending = self._place / PENDING_FILE
        try:
            step = step_from(pending.read_bytes())
        except FileNotFoundError:
            return
        if step is None:
            # Written atomically, so only a hand can have spoilt it; what stands is noticed.
            pending.replace(pending.with_name(f"unreadable-{PENDING_FILE}"))
            return
        if step.number <= self._journal.last_number:
            pending.unlink()
            return
        for change in step.changes:
            self._make_hold(change.path, change.after)
        self._enter(step)

    def _make_hold(self, path: str, mark: str | None) -> None:
        target = self._target(path)
        if mark is None:
            target.unlink(missing_ok=True)
        elif not mark.startswith("size:"):
            make_folder(target.parent)
            write_atomically(target, self._versions.content(path, mark))


def pending_in(folder: Path) -> bool:
    """Whether a step in the study is decided but not finished."""
    return (folder / HISTORY_FOLDER / PENDING_FILE).exists()


def journal_stamp(folder: Path) -> tuple[int, int, int]:
    """Return what tells whether a step was entered between two looks."""
    try:
        status = (folder / HISTORY_FOLDER / JOURNAL_FILE).stat()
    except OSError:
        return (0, 0, 0)
    return status.st_size, status.st_mtime_ns, status.st_ino
