"""Errands: what takes a while and ends in files, made beside the page.

One errand at a time is at work, the others wait in order. Each says how far it is, can be
stopped, and ends with files to take away or with what went wrong, in words.
"""

import logging
import shutil
import tempfile
import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from bonewright.errors import BonewrightError, StudyProblems
from bonewright.remembering import Stopped

__all__ = ["Errand", "Errands", "Made", "Outcome", "Tell"]

_LOG = logging.getLogger("bonewright.web")
_KEPT = 12
_FAULT = (
    "Something went wrong inside the program; your tables are unharmed. Please report it with"
    " what you asked for."
)

_ENDED = ("done", "stopped", "failed")

State = Literal["waiting", "at work", "done", "stopped", "failed"]
Tell = Callable[[str, int, int], None]
"""Say what is being done, and how many parts of how many are done; raises ``Stopped``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A file to take away."""

    name: str
    path: Path
    media_type: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outcome:
    """What came of an errand: files, lines to read, or something a template shows."""

    files: tuple[Made, ...] = ()
    lines: tuple[str, ...] = ()
    shown: object = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Errand:
    """One errand and how it stands. ``took_s`` counts from its beginning to its end."""

    number: int
    kind: str
    title: str
    state: State
    doing: str = ""
    done: int = 0
    of: int = 0
    outcome: Outcome | None = None
    message: str = ""
    began: float = 0.0
    took_s: float = 0.0


class Errands:
    """The errands of one study. Every method may be called from any thread.

    Parameters
    ----------
    changed : callable
        Called whenever an errand changed.
    """

    def __init__(self, changed: Callable[[], None]) -> None:
        self._changed = changed
        self._lock = threading.Lock()
        self._thread = ThreadPoolExecutor(max_workers=1, thread_name_prefix="errand")
        self._errands: dict[int, Errand] = {}
        self._unwanted: set[int] = set()
        self._place = Path(tempfile.mkdtemp(prefix="bonewright-"))
        self.edition = 0
        """Rises whenever an errand begins or ends."""

    def close(self) -> None:
        """Stop everything and take the files away that nobody took."""
        with self._lock:
            self._unwanted |= set(self._errands)
        self._thread.shutdown(wait=False, cancel_futures=True)
        shutil.rmtree(self._place, ignore_errors=True)

    def all(self) -> tuple[Errand, ...]:
        """Return the errands, the latest first."""
        with self._lock:
            return tuple(reversed(self._errands.values()))

    def begin(self, kind: str, title: str, work: Callable[[Path, Tell], Outcome]) -> int:
        """Begin an errand; return its number.

        ``work`` is given a folder of its own and a way to tell how far it is.
        """
        with self._lock:
            number = max(self._errands, default=0) + 1
            self._errands[number] = Errand(number=number, kind=kind, title=title, state="waiting")
            ended = [
                n for n, e in self._errands.items() if e.state in ("done", "stopped", "failed")
            ]
            forgotten = ended[: max(0, len(self._errands) - _KEPT)]
            for old in forgotten:
                del self._errands[old]
            self.edition += 1
        for old in forgotten:
            shutil.rmtree(self._place / str(old), ignore_errors=True)
        self._thread.submit(self._do, number, work)
        self._changed()
        return number

    def stop(self, number: int) -> None:
        """Stop an errand: at once if it waits, else at the next part of its work."""
        with self._lock:
            self._unwanted.add(number)
            waits = number in self._errands and self._errands[number].state == "waiting"
        if waits:
            self._set(number, state="stopped")

    def file(self, number: int, name: str) -> Made | None:
        """Return a file that an errand made."""
        with self._lock:
            errand = self._errands.get(number)
        files = () if errand is None or errand.outcome is None else errand.outcome.files
        return next((made for made in files if made.name == name and made.path.is_file()), None)

    def _set(self, number: int, **changes: object) -> None:
        with self._lock:
            if number not in self._errands:
                return
            self._errands[number] = replace(self._errands[number], **changes)  # type: ignore[arg-type]
            if "state" in changes:
                self.edition += 1
        self._changed()

    def _do(self, number: int, work: Callable[[Path, Tell], Outcome]) -> None:
        def tell(doing: str, done: int, of: int) -> None:
            if number in self._unwanted:
                raise Stopped
            self._set(number, doing=doing, done=done, of=of)

        if number in self._unwanted:
            return
        began = time.monotonic()
        self._set(number, state="at work", began=began)
        place = self._place / str(number)

        def ended(state: State, **changes: object) -> None:
            self._set(number, state=state, took_s=time.monotonic() - began, **changes)

        try:
            place.mkdir(parents=True)
            outcome = work(place, tell)
            tell("", 1, 1)
            ended("done", outcome=outcome)
        except Stopped:
            ended("stopped")
        except StudyProblems as error:
            count = len(error.problems)
            ended("failed", message=f"{count} problems: {error.problems[0].sentence()}")
        except BonewrightError as error:
            ended("failed", message=str(error))
        except OSError as error:
            ended("failed", message=f"It could not be written: {error.strerror or error}.")
        except Exception:
            # The edge of a thread: nothing above it could show the fault to anybody.
            _LOG.exception("A fault in the program on an errand")
            ended("failed", message=_FAULT)
