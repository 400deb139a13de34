"""Earlier versions of tables: what the page's changes are told against.

The last few hundred that were handed out are kept in memory. An older one, of a page left
open for days, is found in the study's history, which keeps what each file ever held.
"""

import re
import threading

from bonewright.errors import BonewrightError
from bonewright.study.csv_file import parse_csv
from bonewright.study.history import History
from bonewright.study.raw import RawTable, empty_table
from bonewright.web.clash import Sheet
from bonewright.web.sheets import sheet_of, version_of

__all__ = ["HandedOut"]

_REMEMBERED = 400
_MARK = re.compile("[0-9a-f]{64}")


class HandedOut:
    """The versions of a study's tables that pages may have. Callable from any thread.

    Parameters
    ----------
    history : History
    remembered : int
        How many versions are kept in memory.
    """

    def __init__(self, history: History, *, remembered: int = _REMEMBERED) -> None:
        self._history = history
        self._remembered = remembered
        self._lock = threading.Lock()
        self._sheets: dict[tuple[str, str], Sheet] = {}

    def hand_out(self, table: RawTable) -> Sheet:
        """Return a table as the page shows it, and remember that version."""
        sheet = sheet_of(table)
        with self._lock:
            while len(self._sheets) >= self._remembered:
                del self._sheets[next(iter(self._sheets))]
            self._sheets[(table.name, version_of(table))] = sheet
        return sheet

    def version(self, now: RawTable, version: str) -> Sheet | None:
        """Return a version of a table, of which ``now`` is the newest; None if it is nowhere."""
        with self._lock:
            sheet = self._sheets.get((now.name, version))
        if sheet is not None:
            return sheet
        without_file = empty_table(now.name)
        if version == version_of(without_file):
            return self.hand_out(without_file)
        if now.in_workbook or not _MARK.fullmatch(version):
            return None
        try:
            content = self._history.content(now.file, version)
        except (BonewrightError, OSError):
            return None
        return self.hand_out(parse_csv(now.name, content, file=now.file))
