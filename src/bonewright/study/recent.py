"""Answers that were just worked out, for tables that have not changed since."""

import threading
from collections import deque
from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

__all__ = ["Recent"]

_Answer = TypeVar("_Answer")


class Recent(Generic[_Answer]):
    """The last few answers of one kind, by name and by what they were worked out from.

    Few are kept, since a large table's answer is large: enough for the table as it stands
    on disk, as it is being typed in, and as it was before.

    Parameters
    ----------
    kept : int
        How many answers to keep of each name.
    """

    def __init__(self, kept: int = 3) -> None:
        self._kept = kept
        self._lock = threading.Lock()
        self._by_name: dict[str, deque[tuple[Hashable, _Answer]]] = {}

    def recall(self, name: str, question: Hashable, answer: Callable[[], _Answer]) -> _Answer:
        """Return the answer to a question, worked out anew only if it was not asked lately."""
        with self._lock:
            known = tuple(self._by_name.get(name, ()))
        for asked, answered in known:
            if asked == question:
                return answered
        made = answer()
        with self._lock:
            self._by_name.setdefault(name, deque(maxlen=self._kept)).append((question, made))
        return made
