"""Remember what a step answered, under the fingerprint of everything it was given.

A step is a pure function: the same rows, choices and stream of random numbers give the same
draws. So its answer is kept under a fingerprint of its inputs and of its own source text, and
an edit computes again only what it reaches. A step whose inputs come out as they were, because
the edit made no difference before it, is not computed either.
"""

import dataclasses
import hashlib
import marshal
import struct
import threading
import weakref
from collections import OrderedDict
from collections.abc import Callable, Mapping
from collections.abc import Set as AbstractSet
from contextvars import ContextVar
from functools import cache
from operator import attrgetter
from pathlib import Path, PurePath
from typing import Any, Generic, Protocol, TypeVar, cast

import numpy as np
from numpy.typing import NDArray

from bonewright.errors import BonewrightError

__all__ = [
    "Answered",
    "NoMemory",
    "StepMemory",
    "Stopped",
    "Watcher",
    "fingerprint",
    "recalled",
    "source_fingerprint",
    "tell_progress",
]

_Result = TypeVar("_Result")

# How many answers of a part of a step are kept: one step may ask for the same part many times.
_PARTS = 64
# And of a part that fills so many bytes: megabytes of draws are not kept by the dozen.
_LARGE = 1_000_000
_LARGE_PARTS = 2

_PACKAGE = Path(__file__).parent
_PLAIN = frozenset({str, float, int, bool, type(None)})
_MARKS: dict[int, tuple["weakref.ref[NDArray[Any]]", bytes]] = {}
_ROWS: dict[int, tuple[tuple[object, ...], bytes]] = {}
_ROWS_LOCK = threading.Lock()
_MANY_ROWS = 16
_TABLES_KNOWN = 64
# What every step computes with, beside its own package.
_SHARED = ("quantity.py", "findings.py", "literature.py", "study/model.py", "pipeline.py")


def fingerprint(value: object) -> str:
    """Return a hash of a value's whole content, alike in every process.

    Parameters
    ----------
    value
        Numbers, texts, arrays, paths, random streams, frozen dataclasses, settings, and
        tuples, mappings and sets of them. The order of a mapping counts; of a set it does not.

    Raises
    ------
    TypeError
        If something in it has no content that could be told.

    Examples
    --------
    >>> fingerprint((1, "a")) == fingerprint((1, "a"))
    True
    >>> fingerprint((1, "a")) == fingerprint((1.0, "a"))
    False
    """
    parts: list[bytes] = []
    _write(value, parts)
    return hashlib.blake2b(b"".join(parts), digest_size=16).hexdigest()


def _write(value: object, parts: list[bytes]) -> None:
    kind = type(value)
    if kind is str:
        text = cast(str, value).encode("utf-8", "surrogatepass")
        parts.append(b"s%d:" % len(text))
        parts.append(text)
    elif kind is float or kind is np.float64:
        parts.append(b"f" + struct.pack("<d", value))
    elif value is None or kind is bool or kind is int:
        parts.append(f"{value};".encode())
    elif kind is tuple or kind is list:
        items = tuple(cast("tuple[object, ...]", value))
        if kind is tuple and len(items) >= _MANY_ROWS and hasattr(items[0], "ref"):
            parts.append(_mark_of_rows(items))
        else:
            _write_row(items, parts)
    elif kind is Answered:
        parts.append(b"A" + cast("Answered[object]", value).key.encode())
    elif dataclasses.is_dataclass(kind):
        parts.append(b"d")
        parts.append(kind.__qualname__.encode())
        fields = _fields_of(kind)(value)
        # Plain fields are written in one go; of the others stands the place, then the content.
        plain = tuple(field if type(field) in _PLAIN else ... for field in fields)
        parts.append(marshal.dumps(cast(Any, plain), 0))
        for field, written in zip(fields, plain, strict=True):
            if written is ...:
                _write(field, parts)
    else:
        _write_rarer(value, parts)


def _write_row(items: tuple[object, ...], parts: list[bytes]) -> None:
    kinds = set(map(type, items))
    if kinds <= _PLAIN:
        parts.append(b"p" + marshal.dumps(cast(Any, items), 0))
    elif kinds != {Answered} and len(kinds) == 1 and dataclasses.is_dataclass(kind := kinds.pop()):
        # Rows of one table go column by column: most columns are plain and written in one go.
        parts.append(b"t%d:" % len(items))
        parts.append(kind.__qualname__.encode())
        for column in zip(*map(_fields_of(kind), items), strict=True):
            _write_row(column, parts)
    else:
        parts.append(b"(%d:" % len(items))
        for item in items:
            _write(item, parts)


def _write_rarer(value: object, parts: list[bytes]) -> None:
    if isinstance(value, np.ndarray):
        if value.dtype.hasobject:
            raise TypeError("an array of objects has no content that could be told")
        parts.append(f"a{value.dtype.str}{value.shape}".encode())
        parts.append(_mark_of_array(value))
    elif isinstance(value, np.generic):
        _write_rarer(np.asarray(value), parts)
    elif isinstance(value, Mapping):
        parts.append(b"m%d:" % len(value))
        for key, item in value.items():
            _write(key, parts)
            _write(item, parts)
    elif isinstance(value, AbstractSet):
        parts.append(b"S%d:" % len(value))
        parts.extend(sorted(fingerprint(item).encode() for item in value))
    elif isinstance(value, np.random.Generator):
        seeds = cast(np.random.SeedSequence, value.bit_generator.seed_seq)
        parts.append(b"r")
        _write(value.bit_generator.state, parts)
        _write((seeds.spawn_key, seeds.n_children_spawned), parts)
    elif isinstance(value, PurePath):
        _write(str(value), parts)
    elif hasattr(value, "model_dump"):
        parts.append(type(value).__qualname__.encode())
        _write(value.model_dump(), parts)
    else:
        raise TypeError(f"a {type(value).__name__} has no content that could be told")


def _mark_of_array(array: NDArray[Any]) -> bytes:
    """Return the hash of an array's bytes; known ones that cannot change are not read again."""
    if not _cannot_change(array):
        return hashlib.blake2b(np.ascontiguousarray(array).data, digest_size=16).digest()
    known = _MARKS.get(id(array))
    if known is not None and known[0]() is array:
        return known[1]
    mark = hashlib.blake2b(np.ascontiguousarray(array).data, digest_size=16).digest()
    place = id(array)
    _MARKS[place] = (weakref.ref(array, lambda _: _MARKS.pop(place, None)), mark)
    return mark


def _mark_of_rows(rows: tuple[object, ...]) -> bytes:
    """Return the hash of a table's rows; those of a table that did not change are known.

    Rows are frozen and an unchanged table's are the very same objects from run to run.
    """
    known = _ROWS.get(id(rows))
    if known is not None and known[0] is rows:
        return known[1]
    parts: list[bytes] = []
    _write_row(rows, parts)
    mark = hashlib.blake2b(b"".join(parts), digest_size=16).digest()
    # The rows are held, so that no others can get their place in memory meanwhile.
    with _ROWS_LOCK:
        _ROWS[id(rows)] = (rows, mark)
        while len(_ROWS) > _TABLES_KNOWN:
            _ROWS.pop(next(iter(_ROWS)))
    return mark


def _cannot_change(array: NDArray[Any]) -> bool:
    """Say whether nobody can write to an array, nor to the one it looks into."""
    whole: object = array
    while isinstance(whole, np.ndarray):
        if whole.flags.writeable:
            return False
        whole = whole.base
    return whole is None


@cache
def _fields_of(kind: type) -> Callable[[object], tuple[object, ...]]:
    names = [field.name for field in dataclasses.fields(kind)]
    if not names:
        return lambda _: ()
    if len(names) == 1:
        return lambda value: (getattr(value, names[0]),)
    return attrgetter(*names)


@cache
def source_fingerprint(package: str) -> str:
    """Return a hash of the source text that a step's answer depends on.

    ``package`` is the step's name. A changed line of the program thus never meets an answer
    of the old one.
    """
    digest = hashlib.blake2b(digest_size=16)
    files = sorted((_PACKAGE / package).rglob("*.py")) + [_PACKAGE / name for name in _SHARED]
    for path in files:
        digest.update(path.relative_to(_PACKAGE).as_posix().encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()


class Stopped(Exception):
    """The work is no longer wanted. No error of the person's: nobody is told of it."""


class Watcher(Protocol):
    """Somebody who follows the work, and may end it by raising :class:`Stopped`."""

    def __call__(self, step: str, done: int, of: int) -> None:
        """Take note that ``done`` parts ``of`` so many of a step are done; 0 of 0 as it begins."""


@dataclasses.dataclass(frozen=True, slots=True)
class Answered(Generic[_Result]):
    """What a step answered, as the input of another: its ``key`` tells all its content.

    The function is given ``value`` alone.
    """

    value: _Result
    key: str


@dataclasses.dataclass(frozen=True, slots=True)
class _Answer:
    """What a step gave: a result, or an error in words."""

    result: object
    error: BonewrightError | None


class StepMemory:
    """Answers of steps under the fingerprints of what they were given.

    Parameters
    ----------
    answers_a_step : int
        How many answers of each step are kept; the one used longest ago goes first.
    """

    def __init__(self, *, answers_a_step: int = 4) -> None:
        self._room = answers_a_step
        self._kept: dict[str, OrderedDict[str, _Answer]] = {}
        self.keys: dict[str, str] = {}
        """The key of the last answer of each step's function."""
        self.computed: list[str] = []
        """The steps computed, not remembered, since this list was last emptied."""
        self.watcher: Watcher | None = None
        """Who follows the work of this memory's steps, if anybody does."""
        self.at_work = ""
        """The step computed last."""

    def watched(self, step: str, done: int = 0, of: int = 0) -> None:
        """Let the watcher know where the work stands."""
        if self.watcher is not None:
            self.watcher(step, done, of)

    def recall(
        self, step: str, function: Callable[..., _Result], /, *rows: object, **inputs: Any
    ) -> _Result:
        """Return what ``function`` gives for these inputs, computing it if it is not known.

        Raises
        ------
        BonewrightError
            The one that the step raised for these inputs, now or before.
        """
        key = fingerprint((source_fingerprint(step), function.__qualname__, rows, inputs))
        name = f"{step}.{function.__name__}"
        self.keys[name] = key
        kept = self._kept.setdefault(name, OrderedDict())
        answer = kept.get(key)
        if answer is None:
            self.at_work = step
            self.watched(step)
            self.computed.append(step)
            token = _AT_WORK.set(self)
            try:
                answer = _Answer(function(*_plainly(rows), **inputs), None)
            except BonewrightError as error:
                answer = _Answer(None, error)
            finally:
                _AT_WORK.reset(token)
            kept[key] = answer
            while len(kept) > self._room:
                kept.popitem(last=False)
        kept.move_to_end(key)
        if answer.error is not None:
            # The path by which it was raised the first time is not that of now.
            raise answer.error.with_traceback(None)
        return cast(_Result, answer.result)

    def recall_part(
        self, function: Callable[..., _Result], /, *rows: object, **inputs: Any
    ) -> _Result:
        """Return what a part of the step at work gives; see :func:`recalled`."""
        step = function.__module__.split(".")[1]
        key = fingerprint((source_fingerprint(step), function.__qualname__, rows, inputs))
        kept = self._kept.setdefault(
            f"{function.__module__}.{function.__qualname__}", OrderedDict()
        )
        if key not in kept:
            self.watched(step)
            kept[key] = _Answer(function(*rows, **inputs), None)
            large = getattr(kept[key].result, "nbytes", 0) > _LARGE
            while len(kept) > (_LARGE_PARTS if large else _PARTS):
                kept.popitem(last=False)
        kept.move_to_end(key)
        return cast(_Result, kept[key].result)


class NoMemory(StepMemory):
    """Computes every step and keeps nothing: for one run, whose fingerprints nobody asks for."""

    def recall(
        self, step: str, function: Callable[..., _Result], /, *rows: object, **inputs: Any
    ) -> _Result:
        """Return what ``function`` gives for these inputs."""
        del step
        return function(*_plainly(rows), **inputs)


def _plainly(rows: tuple[object, ...]) -> tuple[object, ...]:
    """Take what steps answered out of what their keys are written on."""
    return tuple(row.value if isinstance(row, Answered) else row for row in rows)


_AT_WORK: ContextVar[StepMemory | None] = ContextVar("memory at work", default=None)


def recalled(function: Callable[..., _Result], /, *rows: object, **inputs: Any) -> _Result:
    """Call a part of a step, or recall its answer where the step runs with a memory.

    For parts that cost much and rest on less than the whole step does. A stream of random
    numbers among the inputs must be the part's own: where the answer is recalled, nothing is
    drawn from it.

    Examples
    --------
    >>> recalled(abs, -3)
    3
    """
    memory = _AT_WORK.get()
    if memory is None:
        return function(*rows, **inputs)
    return memory.recall_part(function, *rows, **inputs)


def tell_progress(done: int, of: int) -> None:
    """Say how far the step at work has come; where nobody watches, nothing happens.

    Raises
    ------
    Stopped
        If the watcher no longer wants the answer.
    """
    memory = _AT_WORK.get()
    if memory is not None:
        memory.watched(memory.at_work, done, of)
