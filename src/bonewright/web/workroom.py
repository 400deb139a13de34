"""The study on the table: what is on disk, what was last computed, and the one lock.

Everything the page shows comes from here. Reading and checking are quick and done at once;
computing is done on a thread of its own, newest state only. Files may change under the
page (a spreadsheet is open beside it): every look at the state compares the folder first.
"""

import logging
import threading
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from bonewright.errors import BonewrightError, Problem, StudyProblems
from bonewright.remembering import StepMemory
from bonewright.study.check import check_tables
from bonewright.study.history import History, Restored
from bonewright.study.history.row_changes import summary_of
from bonewright.study.package import write_description
from bonewright.study.raw import RawTable, RawTables
from bonewright.study.save import ChangedOnDisk, commit_tables
from bonewright.study.schemas import TABLE_BY_NAME
from bonewright.study.settings import Settings
from bonewright.study.snapshot import read_snapshot
from bonewright.web.clash import Joined, Sheet, join
from bonewright.web.failures import Refusal
from bonewright.web.sheets import sheet_of, table_of, version_of

if TYPE_CHECKING:
    from bonewright.comparison import Inputs
    from bonewright.pipeline import Run
    from bonewright.report.compared import Compared

__all__ = ["Clash", "Standing", "Workroom"]

_LOG = logging.getLogger("bonewright.web")
_REMEMBERED_VERSIONS = 400


class Clash(BonewrightError):
    """The table was changed on disk since the page read it."""

    def __init__(self, joined: Joined, version: str) -> None:
        count = len(joined.contradictions)
        if count:
            remedy = "Choose which values stand, then save again."
        else:
            remedy = "Nothing contradicts: both are joined below. Look it over and save again."
        super().__init__(
            "The file was changed on disk while you worked; nothing was saved yet.", remedy=remedy
        )
        self.joined = joined
        self.version = version


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Standing:
    """One look at the workroom. ``stale`` says the run is older than what is on disk."""

    number: int
    computing: bool
    stale: bool
    settings: Settings | None
    raw: RawTables
    problems: tuple[Problem, ...]
    run: "Run | None"
    fault: str


class Workroom:
    """The state behind the page. Every method may be called from any thread.

    Parameters
    ----------
    folder : Path
        The study folder.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder.resolve()
        self._lock = threading.RLock()
        self._thread = ThreadPoolExecutor(max_workers=1, thread_name_prefix="computing")
        self._handed_out: dict[tuple[str, str], Sheet] = {}
        self._marks: Mapping[str, tuple[int, int]] = {}
        self._number = 0
        self._wanted = 0
        self._computed = 0
        self._run: Run | None = None
        self._fault = ""
        # Answers of steps outlive an edit, so that one cell moves only what it reaches. One
        # thread at a time may use them.
        self._memory = StepMemory(answers_a_step=6)
        self._memory_lock = threading.Lock()
        self._inputs: tuple[Inputs, ...] = ()
        self._compared: tuple[int, Compared | None] = (-1, None)
        self.history = History(self.folder)
        self.cannot_save = ""
        self._notice()
        self._read()

    def close(self) -> None:
        """Let the computing thread end."""
        self._thread.shutdown(wait=False, cancel_futures=True)

    def look(self) -> Standing:
        """Return how things stand, after taking in what changed on disk."""
        with self._lock:
            if _marks_of(self.folder) != self._marks:
                self._notice()
                self._read()
            return Standing(
                number=self._number,
                computing=self._computed < self._wanted,
                stale=self._computed < self._wanted or bool(self._problems or self._fault),
                settings=self._settings,
                raw=self._raw,
                problems=self._problems,
                run=self._run,
                fault=self._fault,
            )

    def compared(self) -> "Compared | None":
        """Say what the last edit moved; None before the first, or while computing."""
        from bonewright.report.compared import compare_inputs

        with self._lock:
            standing = self.look()
            if standing.stale or len(self._inputs) < 2:
                return None
            if self._compared[0] == standing.number:
                return self._compared[1]
            before, after = self._inputs
        found: Compared | None = None
        try:
            with self._memory_lock:
                found = compare_inputs(before, after, memory=self._memory)
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
        with self._lock:
            self.look()
            table = self._table(name)
            sheet = sheet_of(table)
            while len(self._handed_out) >= _REMEMBERED_VERSIONS:
                del self._handed_out[next(iter(self._handed_out))]
            self._handed_out[(name, version_of(table))] = sheet
            return table, sheet

    def check(self, changed: Mapping[str, RawTable]) -> tuple[Problem, ...]:
        """Return every problem the study would have with the changed tables."""
        with self._lock:
            self.look()
            raw, settings, told = self._raw, self._settings, self._settings_problems
        for name, table in changed.items():
            if name not in raw:
                raise _no_table(name)
            raw = raw.with_table(table)
        return told + check_tables(raw, settings, self.folder)

    def save(self, name: str, sheet: Sheet, *, version: str, what: str | None = None) -> None:
        """Save a table that was edited from ``version`` and compute anew.

        ``what`` is the step's sentence for the history; what changed is counted if left out.

        Raises
        ------
        Clash
            If the table on disk is no longer that version; both are joined.
        """
        with self._lock:
            table, on_disk = self.sheet(name)
            if version_of(table) != version:
                before = self._handed_out.get((name, version), on_disk)
                joined = join(before, sheet, on_disk, key=TABLE_BY_NAME[name].key)
                raise Clash(joined, version_of(table))
            changed = table_of(table, sheet)
            words = what or f"{name}: {summary_of(table.file, table, changed) or 'saved'}"
            try:
                commit_tables(self.history, [changed], what=words, by="page")
            except ChangedOnDisk:
                # It changed between the comparison above and the writing.
                self._read()
                self.save(name, sheet, version=version, what=what)
                return
            self._read()
            self._thread.submit(write_description, self.folder, self._raw, self._settings)

    def go(self, act: Callable[[History], Restored]) -> Restored:
        """Undo, redo or go back, then take in the study as it stands and compute anew."""
        with self._lock:
            restored = act(self.history)
            self._read()
            self._thread.submit(write_description, self.folder, self._raw, self._settings)
            return restored

    def decide(self, table: str, row_id: str, *, decision: str, reason: str) -> None:
        """Add a row to the decisions table."""
        with self._lock:
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
            self.save(
                "decisions",
                Sheet(header=sheet.header, rows=(*sheet.rows, row)),
                version=version_of(decisions),
                what=f"Decided on {table}, {row_id}: {decision}",
            )

    def _table(self, name: str) -> RawTable:
        if name not in self._raw:
            raise _no_table(name)
        return self._raw[name]

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
        self._marks = _marks_of(self.folder)
        snapshot = read_snapshot(self.folder)
        self._settings, self._settings_problems = snapshot.settings, snapshot.problems
        self._raw = snapshot.raw
        self._problems = self._settings_problems + check_tables(
            self._raw, self._settings, self.folder
        )
        self._number += 1
        self._wanted += 1
        self._fault = ""
        if self._problems or self._settings is None:
            self._computed = self._wanted
            return
        self._thread.submit(self._compute, self._wanted, self._raw, self._settings)

    def _compute(self, wanted: int, raw: RawTables, settings: Settings) -> None:
        if wanted != self._wanted:
            return  # a newer state is waiting
        run: Run | None = None
        problems: tuple[Problem, ...] = ()
        fault = ""
        try:
            from bonewright.comparison import Inputs

            inputs = Inputs(raw=raw, settings=settings, folder=self.folder)
            with self._memory_lock:
                run = inputs.run(self._memory)
        except StudyProblems as error:
            problems = error.problems
        except BonewrightError as error:
            fault = str(error)
        except Exception:
            # The edge of a thread: nothing above it could show the fault to anybody.
            _LOG.exception("A fault in the program while computing")
            fault = (
                "Something went wrong inside the program while computing; your tables are "
                "unharmed. Please report it with what you did."
            )
        with self._lock:
            if wanted != self._wanted:
                return
            self._computed = wanted
            self._number += 1
            self._problems = problems
            self._fault = fault
            if run is not None:
                self._run = run
                self._inputs = (*self._inputs[-1:], inputs)


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


def _marks_of(folder: Path) -> dict[str, tuple[int, int]]:
    """Size and time of every file the study is read from."""
    paths = [folder / "study.toml"]
    for place in ("tables", "files"):
        paths += (folder / place).rglob("*")
    marks: dict[str, tuple[int, int]] = {}
    for path in paths:
        try:
            status = path.stat()
        except OSError:
            continue  # gone between listing and looking, or a link that leads nowhere
        marks[str(path)] = (status.st_mtime_ns, status.st_size)
    return marks
