"""A second process that computes beside the first, for a run from the command line.

Most steps need only the study and the average skeleton, so two of them can run at once. The
second process gets ready while the first reads the study. Where a system cannot fork, or the
second process is lost, the first computes all of it: the numbers are the same either way.
"""

import multiprocessing
import sys
import threading
from collections.abc import Callable
from multiprocessing.connection import Connection
from typing import Any, Generic, TypeVar, cast

__all__ = ["Beside", "Pending"]

_Result = TypeVar("_Result")


class Pending(Generic[_Result]):
    """An answer on its way from the second process."""

    def __init__(self, connection: Connection | None, compute: Callable[[], _Result]) -> None:
        self._connection = connection
        self._compute = compute

    def result(self) -> _Result:
        """Wait for the answer; compute it here if the second process cannot give it."""
        if self._connection is not None:
            try:
                done, answer = self._connection.recv()
            except (EOFError, OSError):
                done, answer = False, None
            if done:
                return cast(_Result, answer)
        return self._compute()


class Beside:
    """One helper process; ``prepare`` is called in it before the first work arrives.

    Parameters
    ----------
    prepare : callable
        Loads what the work will need.
    """

    def __init__(self, prepare: Callable[[], None]) -> None:
        self._connection: Connection | None = None
        # A process with threads must not fork: a lock held by another thread stays held.
        forks = "fork" in multiprocessing.get_all_start_methods() and sys.platform == "linux"
        if not forks or threading.active_count() > 1:
            return
        here, there = multiprocessing.Pipe()
        context = multiprocessing.get_context("fork")
        process = context.Process(target=_work, args=(there, here, prepare), daemon=True)
        process.start()
        there.close()
        self._connection = here

    def start(
        self, function: Callable[..., _Result], /, *rows: Any, **inputs: Any
    ) -> Pending[_Result]:
        """Have ``function`` computed in the second process, for these inputs."""

        def here() -> _Result:
            return function(*rows, **inputs)

        connection = self._connection
        if connection is not None:
            try:
                connection.send((function, rows, inputs))
            except OSError:
                connection = self._connection = None
        return Pending(connection, here)


def _work(own: Connection, other: Connection, prepare: Callable[[], None]) -> None:
    other.close()
    prepare()
    while True:
        try:
            function, rows, inputs = own.recv()
        except (EOFError, KeyboardInterrupt):
            return
        try:
            answer = True, function(*rows, **inputs)
        except Exception:
            answer = False, None
        own.send(answer)
