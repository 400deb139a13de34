"""The computing behind the page: newest state only, step by step, on a thread of its own.

An edit makes what was being computed for the state before it worthless, so that is given up at
once. Each step's answer is shown as soon as it is there, beside the older answers of the steps
that are still to come, which say that they are old.
"""

import logging
import math
import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeVar

from bonewright.errors import BonewrightError, Problem, StudyProblems
from bonewright.remembering import StepMemory, Stopped, Watcher

if TYPE_CHECKING:
    from bonewright.comparison import Inputs
    from bonewright.pipeline import Run

__all__ = ["Computing", "Progress", "Stand"]

_LOG = logging.getLogger("bonewright.web")
_FAULT = (
    "Something went wrong inside the program while computing; your tables are unharmed. Please"
    " report it with what you did."
)
_Answer = TypeVar("_Answer")
_PAUSE_S = 0.3
# How long the first computing waits for the first page, and for the next table to be read.
_PAGE_COMES_WITHIN_S = 2.0
_TABLES_READ_WITHIN_S = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """Which step is being computed, and how many of its parts are done (0 of 0: untold)."""

    step: str = ""
    done: int = 0
    of: int = 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stand:
    """Where the computing stands.

    ``run`` is the last whole run, ``ahead`` the one under way with what ``arrived`` so far.
    ``edition`` rises whenever there is something new to show.
    """

    edition: int = 0
    computing: bool = False
    stopped: bool = False
    run: "Run | None" = None
    ahead: "Run | None" = None
    arrived: frozenset[str] = frozenset()
    progress: Progress = Progress()
    problems: tuple[Problem, ...] = ()
    fault: str = ""
    inputs: tuple["Inputs", ...] = ()
    """Of the last two whole runs."""


class Computing:
    """Computes what was wanted last. Every method may be called from any thread.

    Parameters
    ----------
    changed : callable
        Called, from any thread, whenever the stand or the progress changed.
    page_comes : bool
        Whether somebody is about to look at the page for the first time. Loading what
        computing takes would hold that page up, so that it waits a moment.
    """

    def __init__(self, changed: Callable[[], None], *, page_comes: bool = False) -> None:
        self._changed = changed
        self._looked_at = math.inf
        self._begins_by = time.monotonic() + (_PAGE_COMES_WITHIN_S if page_comes else 0.0)
        self._lock = threading.Lock()
        self._thread = ThreadPoolExecutor(max_workers=1, thread_name_prefix="computing")
        # Answers of steps outlive an edit, so that one cell moves only what it reaches. One
        # thread at a time may use them.
        self._memory = StepMemory(answers_a_step=6)
        self._memory_lock = threading.Lock()
        self._wanted = 0
        self._asked: Callable[[], Inputs] | None = None
        self._stand = Stand()

    def stand(self) -> Stand:
        """Return where the computing stands."""
        with self._lock:
            return self._stand

    def close(self) -> None:
        """Give up what is being computed and let the thread end."""
        with self._lock:
            self._wanted += 1
        self._thread.shutdown(wait=False, cancel_futures=True)

    def looked_at(self) -> None:
        """Take note that somebody looks at a table."""
        self._looked_at = time.monotonic()

    def _let_the_first_page_by(self) -> None:
        while time.monotonic() < self._begins_by:
            if time.monotonic() - self._looked_at > _TABLES_READ_WITHIN_S:
                break
            time.sleep(_TABLES_READ_WITHIN_S / 10)
        self._begins_by = 0.0

    def want(self, asked: "Callable[[], Inputs] | None") -> None:
        """Compute what ``asked`` returns; give up whatever was wanted before. None wants nothing.

        ``asked`` is called on the computing thread, which loads what computing takes.
        """
        with self._lock:
            # Where edits come faster than they can be computed, each waits whether another
            # follows: computing what nobody will see would only hold up the next save.
            pause_s = _PAUSE_S if self._stand.computing else 0.0
            self._wanted += 1
            wanted = self._wanted
            self._asked = asked
            self._stand = replace(
                self._stand,
                edition=self._stand.edition + 1,
                computing=asked is not None,
                stopped=False,
                ahead=None,
                arrived=frozenset(),
                progress=Progress(),
                problems=(),
                fault="",
            )
        if asked is not None:
            self._thread.submit(self._compute, wanted, asked, pause_s)
        self._changed()

    def afterwards(self, chore: Callable[[], None]) -> None:
        """Do a chore that nobody waits for, once what is being computed is done."""
        self._thread.submit(chore)

    def stop(self) -> None:
        """Give up what is being computed, until it is wanted again or the study changes."""
        with self._lock:
            if not self._stand.computing:
                return
            self._wanted += 1
            self._stand = replace(
                self._stand,
                edition=self._stand.edition + 1,
                computing=False,
                stopped=True,
                ahead=None,
                arrived=frozenset(),
                progress=Progress(),
            )
        self._changed()

    def resume(self) -> None:
        """Compute what was stopped."""
        with self._lock:
            asked = self._asked if self._stand.stopped else None
        if asked is not None:
            self.want(asked)

    def with_memory(self, work: Callable[[StepMemory], _Answer]) -> _Answer | None:
        """Do work that recalls steps' answers; None if an edit came in between."""
        with self._lock:
            wanted = self._wanted
        with self._memory_lock:
            self._memory.watcher = self._watcher(wanted, told=False)
            try:
                return work(self._memory)
            except Stopped:
                return None

    def _watcher(self, wanted: int, *, told: bool) -> Watcher:
        def watch(step: str, done: int, of: int) -> None:
            with self._lock:
                if wanted != self._wanted:
                    raise Stopped
                if told:
                    progress = Progress(step=step, done=done, of=of)
                    self._stand = replace(self._stand, progress=progress)
            if told:
                self._changed()

        return watch

    def _compute(self, wanted: int, asked: "Callable[[], Inputs]", pause_s: float) -> None:
        self._let_the_first_page_by()
        until = time.monotonic() + pause_s
        while wanted == self._wanted and time.monotonic() < until:
            time.sleep(_PAUSE_S / 10)
        if wanted != self._wanted:
            return  # a newer state is waiting

        def arrived(step: str, run: "Run") -> None:
            self._settle(wanted, ahead=run, arrived=step)

        try:
            inputs = asked()
            with self._memory_lock:
                self._memory.watcher = self._watcher(wanted, told=True)
                run = inputs.run(self._memory, arrived=arrived)
            self._settle(wanted, run=run, inputs=inputs)
        except Stopped:
            return
        except StudyProblems as error:
            self._settle(wanted, problems=error.problems)
        except BonewrightError as error:
            self._settle(wanted, fault=str(error))
        except Exception:
            # The edge of a thread: nothing above it could show the fault to anybody.
            _LOG.exception("A fault in the program while computing")
            self._settle(wanted, fault=_FAULT)

    def _settle(
        self,
        wanted: int,
        *,
        ahead: "Run | None" = None,
        arrived: str = "",
        run: "Run | None" = None,
        inputs: "Inputs | None" = None,
        problems: tuple[Problem, ...] = (),
        fault: str = "",
    ) -> None:
        """Take in a step's answer, or how the computing ended."""
        with self._lock:
            if wanted != self._wanted:
                raise Stopped
            stand = replace(self._stand, edition=self._stand.edition + 1)
            if ahead is not None:
                stand = replace(stand, ahead=ahead, arrived=stand.arrived | {arrived})
            else:
                stand = replace(
                    stand,
                    computing=False,
                    ahead=None,
                    arrived=frozenset(),
                    progress=Progress(),
                    problems=problems,
                    fault=fault,
                )
            if run is not None and inputs is not None:
                stand = replace(stand, run=run, inputs=(*stand.inputs[-1:], inputs))
            self._stand = stand
        self._changed()
