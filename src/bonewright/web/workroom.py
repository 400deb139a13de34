"""The study on the table: what is on disk, what was last computed, and the one lock.

Everything the page shows comes from here. Reading and checking are quick and done at once;
computing is done elsewhere (:mod:`bonewright.web.computing`). Files may change under the
page (a spreadsheet is open beside it): every look at the state compares the folder first.
"""

import math
import secrets
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from bonewright.errors import BonewrightError, Problem
from bonewright.study.check import check_tables
from bonewright.study.folder_walk import files_below
from bonewright.study.history import History, Restored
from bonewright.study.history.row_changes import summary_of
from bonewright.study.package import write_description
from bonewright.study.raw import RawTable, RawTables
from bonewright.study.save import ChangedOnDisk, commit_tables
from bonewright.study.schemas import TABLE_BY_NAME
from bonewright.study.settings import Settings
from bonewright.study.settings_edit import Setting, change_settings
from bonewright.study.snapshot import read_snapshot
from bonewright.web.clash import Joined, Sheet, join
from bonewright.web.computing import Computing, Progress
from bonewright.web.errands import Errands
from bonewright.web.failures import Refusal
from bonewright.web.handed_out import HandedOut
from bonewright.web.incoming import Incoming
from bonewright.web.sheets import table_of, version_of

if TYPE_CHECKING:
    from bonewright.comparison import Inputs
    from bonewright.pipeline import Run
    from bonewright.report.compared import Compared
    from bonewright.what_if import Bench

__all__ = ["Clash", "Standing", "Workroom"]

_LOOK_AT_FILES_S = 0.5


class Clash(BonewrightError):
    """The table was changed on disk since the page read it."""

    def __init__(self, name: str, joined: Joined, version: str) -> None:
        count = len(joined.contradictions)
        if count:
            remedy = "Choose which values stand, then save again."
        else:
            remedy = "Nothing contradicts: both are joined. Save what is joined."
        super().__init__(
            "The file was changed on disk while you worked; nothing was saved yet.", remedy=remedy
        )
        self.name = name
        self.joined = joined
        self.version = version


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Standing:
    """One look at the workroom.

    ``number`` rises whenever something to show changed, ``reading`` whenever the folder did.
    ``run`` is the last whole run and ``ahead`` the one under way, with what ``arrived`` of it
    so far. ``stale`` says that ``run`` is older than what is on disk, ``stopped`` that
    somebody stopped the computing.
    """

    number: int
    reading: int
    computing: bool
    stale: bool
    settings: Settings | None
    raw: RawTables
    problems: tuple[Problem, ...]
    run: "Run | None"
    fault: str
    stopped: bool
    ahead: "Run | None"
    arrived: frozenset[str]
    progress: Progress

    def run_for(self, step: str) -> tuple["Run | None", bool]:
        """Return the newest run that has the step's answer, and whether it is an old one."""
        if self.ahead is not None and (step in self.arrived or self.run is None):
            return self.ahead, False
        return self.run, self.stale


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Taken:
    """The folder as it was last taken in. ``told`` are the problems of settings and history."""

    reading: int
    settings: Settings | None
    told: tuple[Problem, ...]
    raw: RawTables
    problems: tuple[Problem, ...]


class Workroom:
    """The state behind the page. Every method may be called from any thread.

    Parameters
    ----------
    folder : Path
        The study folder.
    page_comes : bool
        Whether somebody is about to look at the page for the first time.
    """

    def __init__(self, folder: Path, *, page_comes: bool = False) -> None:
        self.folder = folder.resolve()
        self.mark = secrets.token_hex(6)
        self.closed = False
        # Held by the one who takes in the folder or writes in it.
        self._lock = threading.RLock()
        self._saving = 0
        self._marks: Mapping[str, tuple[int, int]] = {}
        self.told = 0
        self._telling = threading.Lock()
        self._looked_at = -math.inf
        self._files: Mapping[str, tuple[int, int]] = {}
        self._files_at = -math.inf
        self._listeners: list[Callable[[], None]] = []
        self._computing = Computing(self._tell, page_comes=page_comes)
        self.errands = Errands(self._tell)
        self._bench: Bench | None = None
        self.incoming = Incoming(self.folder)
        self._compared: tuple[int, Compared | None] = (-1, None)
        self.history = History(self.folder)
        self._handed_out = HandedOut(self.history)
        self.cannot_save = ""
        self._taken = _Taken(
            reading=0, settings=None, told=(), raw=RawTables(tables={}), problems=()
        )
        self._notice()
        self._read()

    def close(self) -> None:
        """Let the computing thread end, and everybody who listens know."""
        self.closed = True
        self._computing.close()
        self.errands.close()
        self.incoming.close()
        self._tell()

    def listen(self, listener: Callable[[], None]) -> Callable[[], None]:
        """Call ``listener``, from any thread, whenever something changed; return how to end it."""
        self._listeners.append(listener)
        return lambda: self._listeners.remove(listener)

    def bench(self) -> "Bench | None":
        """Return where what-if questions about the last whole run are answered."""
        run = self._computing.stand().run
        with self._lock:
            if run is not None and (self._bench is None or self._bench.run is not run):
                from bonewright.what_if import Bench

                self._bench = Bench(run)
            return self._bench

    def kept_more(self) -> None:
        """Let everybody who listens know that one more run is kept."""
        self.errands.edition += 1
        self._tell()

    def looked_at(self) -> None:
        """Take note that somebody looks at a table."""
        self._computing.looked_at()

    def stop(self) -> None:
        """Give up what is being computed."""
        self._computing.stop()

    def resume(self) -> None:
        """Compute what was stopped."""
        self._computing.resume()

    def _tell(self) -> None:
        # Two who tell at once must not count as one: what the second tells would go unseen.
        with self._telling:
            self.told += 1
        for listener in tuple(self._listeners):
            listener()

    def look(self, *, within_s: float = 0.0) -> Standing:
        """Return how things stand, after taking in what changed on disk.

        ``within_s`` is how old the last look at the folder may be: many who only watch
        need not each look anew.
        """
        # While somebody saves, the others see the study as it stood before: nobody waits.
        if self._lock.acquire(blocking=not self._saving):
            try:
                if time.monotonic() - self._looked_at >= within_s:
                    if self._marks_now() != self._marks:
                        self._notice()
                        self._read()
                    self._looked_at = time.monotonic()
            finally:
                self._lock.release()
        taken, stand = self._taken, self._computing.stand()
        problems = taken.problems or stand.problems
        return Standing(
            number=taken.reading + stand.edition,
            reading=taken.reading,
            computing=stand.computing,
            stale=stand.computing or stand.stopped or bool(problems or stand.fault),
            settings=taken.settings,
            raw=taken.raw,
            problems=problems,
            run=stand.run,
            fault=stand.fault,
            stopped=stand.stopped,
            ahead=stand.ahead,
            arrived=stand.arrived,
            progress=stand.progress,
        )

    def compared(self) -> "Compared | None":
        """Say what the last edit moved; None before the first, or while computing."""
        from bonewright.report.compared import compare_inputs

        standing = self.look()
        inputs = self._computing.stand().inputs
        if standing.stale or len(inputs) < 2:
            return None
        with self._lock:
            if self._compared[0] == standing.number:
                return self._compared[1]
        before, after = inputs
        found: Compared | None = None
        try:
            found = self._computing.with_memory(
                lambda memory: compare_inputs(before, after, memory=memory)
            )
        except BonewrightError:
            # Files that the earlier tables name are gone: there is nothing to compare with.
            found = None
        with self._lock:
            self._compared = (standing.number, found)
        return found

    def sheet(self, name: str) -> tuple[RawTable, Sheet]:
        """Return a table as it stands on disk, and remember what was handed out.

        Raises
        ------
        Refusal
            If the study has no table of that name.
        """
        raw = self.look().raw
        if name not in raw:
            raise _no_table(name)
        table = raw[name]
        return table, self._handed_out.hand_out(table)

    def handed_out(self, name: str, version: str) -> Sheet:
        """Return a table as it was handed out under that version.

        Raises
        ------
        Refusal
            If that is too long ago to be remembered.
        """
        sheet = self._handed_out.version(self._table(name), version)
        if sheet is None:
            raise Refusal(
                410,
                "The version these changes were made in is no longer known.",
                remedy="Send the whole table.",
            )
        return sheet

    def check(self, changed: Mapping[str, RawTable]) -> tuple[Problem, ...]:
        """Return every problem the study would have with the changed tables."""
        self.look()
        taken = self._taken
        raw = taken.raw
        for name, table in changed.items():
            if name not in raw:
                raise _no_table(name)
            raw = raw.with_table(table)
        return taken.told + check_tables(raw, taken.settings, self.folder)

    def save(
        self, name: str, sheet: Sheet, *, version: str, what: str | None = None
    ) -> tuple[RawTable, Sheet]:
        """Save a table that was edited from ``version`` and compute anew.

        ``what`` is the step's sentence for the history; what changed is counted if left out.
        Returned is the table as saved here, though somebody else may have saved since: the
        page counts its next changes from it.

        Raises
        ------
        Clash
            If the table on disk is no longer that version; both are joined.
        """
        table, on_disk = self.sheet(name)
        if version_of(table) != version:
            # If nobody knows what it was edited from, whatever differs is contradicted.
            before = self._handed_out.version(table, version) or Sheet(header=(), rows=())
            joined = join(before, sheet, on_disk, key=TABLE_BY_NAME[name].key)
            raise Clash(name, joined, version_of(table))
        changed = table_of(table, sheet, saved=True)
        words = what or f"{name}: {summary_of(table.file, table, changed) or 'saved'}"
        with self._writing():
            self.look()
            if version_of(self._table(name)) == version:
                try:
                    (saved,) = commit_tables(self.history, [changed], what=words, by="page")
                except ChangedOnDisk:
                    self._read()
                else:
                    self._take_saved(saved)
                    self._describe()
                    return saved, self._handed_out.hand_out(saved)
        # Somebody else was first: what they saved is compared with this.
        return self.save(name, sheet, version=version, what=what)

    def change_settings(
        self, changes: Mapping[str, Setting | Mapping[str, Setting]], *, what: str
    ) -> None:
        """Write settings into study.toml and compute anew.

        Raises
        ------
        StudyProblems
            If they would not be possible; nothing is written.
        """
        with self._writing():
            self.look()
            change_settings(self.history, self.folder, changes, what=what, by="page")
            self._read()
            self._describe()

    def go(self, act: Callable[[History], Restored]) -> Restored:
        """Undo, redo or go back, then take in the study as it stands and compute anew."""
        with self._writing():
            restored = act(self.history)
            self._read()
            self._describe()
            return restored

    def decide(
        self, table: str, row_id: str, *, decision: str, reason: str
    ) -> tuple[RawTable, Sheet]:
        """Add a row to the decisions table; see :meth:`save`."""
        with self._writing():
            self.look()
            if row_id not in _row_ids(self._table(table)):
                raise Refusal(
                    404,
                    f"The table {table} has no row {row_id}.",
                    remedy="Reload the page: the table was changed.",
                )
            decisions, sheet = self.sheet("decisions")
            cells = {
                "decisionID": _free_id(_row_ids(decisions)),
                "tableName": table,
                "rowID": row_id,
                "decision": decision,
                "reason": reason.strip(),
                "decidedDate": datetime.now(UTC).astimezone().date().isoformat(),
            }
            row = tuple(cells.get(column, "") for column in sheet.header)
            return self.save(
                "decisions",
                Sheet(header=sheet.header, rows=(*sheet.rows, row)),
                version=version_of(decisions),
                what=f"Decided on {table}, {row_id}: {decision}",
            )

    @contextmanager
    def _writing(self) -> Iterator[None]:
        """Be the only one who writes."""
        with self._lock:
            self._saving += 1
            try:
                yield
            finally:
                self._saving -= 1

    def _table(self, name: str) -> RawTable:
        if name not in self._taken.raw:
            raise _no_table(name)
        return self._taken.raw[name]

    def _describe(self) -> None:
        taken = self._taken

        def describe() -> None:
            if taken is self._taken:  # or else a newer one waits to be described
                write_description(self.folder, taken.raw, taken.settings)

        self._computing.afterwards(describe)

    def _notice(self) -> None:
        """Take what was changed by hand into the history."""
        try:
            self.history.notice()
        except BonewrightError as error:
            self.cannot_save = str(error)
        else:
            self.cannot_save = ""

    def _read(self) -> None:
        """Take in the folder as it is and have it computed."""
        self._marks = self._marks_now()
        snapshot = read_snapshot(self.folder)
        self._take(snapshot.settings, snapshot.problems, snapshot.raw)

    def _marks_now(self) -> dict[str, tuple[int, int]]:
        """Size and time of every file the study is read from.

        There may be thousands of pictures and slices: those are looked at now and then.
        """
        now = time.monotonic()
        if now - self._files_at >= _LOOK_AT_FILES_S:
            self._files = _marks_in(self.folder, "files")
            self._files_at = now
        marks = {**self._files, **_marks_in(self.folder, "tables")}
        with suppress(OSError):
            status = (self.folder / "study.toml").stat()
            marks["study.toml"] = (status.st_mtime_ns, status.st_size)
        return marks

    def _take_saved(self, saved: RawTable) -> None:
        """Take in a table just saved; the whole folder if anything else changed meanwhile."""
        marks = self._marks_now()
        others = {*marks, *self._marks} - {saved.file}
        if any(marks.get(one) != self._marks.get(one) for one in others):
            self._notice()
            self._read()
            return
        self._marks = marks
        self._take(self._taken.settings, self._taken.told, self._taken.raw.with_table(saved))

    def _take(self, settings: Settings | None, told: tuple[Problem, ...], raw: RawTables) -> None:
        folder = self.folder
        problems = told + check_tables(raw, settings, folder)
        self._taken = _Taken(
            reading=self._taken.reading + 1,
            settings=settings,
            told=told,
            raw=raw,
            problems=problems,
        )
        if problems or settings is None:
            self._computing.want(None)
            return

        def asked() -> "Inputs":
            from bonewright.comparison import Inputs

            return Inputs(raw=raw, settings=settings, folder=folder)

        self._computing.want(asked)


def _no_table(name: str) -> Refusal:
    return Refusal(
        404,
        f"The study has no table named {name[:80]}.",
        remedy="Choose a table of one of the steps.",
    )


def _row_ids(table: RawTable) -> set[str]:
    key = TABLE_BY_NAME[table.name].key
    if key not in table.header:
        return set()
    place = table.header.index(key)
    return {row[place].strip() for row in table.rows if len(row) > place}


def _free_id(taken: set[str]) -> str:
    number = len(taken) + 1
    while f"dec-{number:02d}" in taken:
        number += 1
    return f"dec-{number:02d}"


def _marks_in(folder: Path, place: str) -> dict[str, tuple[int, int]]:
    """Size and time of every file below a place that the study is read from."""
    return {
        path: (status.st_mtime_ns, status.st_size) for path, status, _ in files_below(folder, place)
    }
