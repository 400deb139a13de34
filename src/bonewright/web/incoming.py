"""Files on their way in: received beside the study, looked at, then taken or thrown away.

A file is written to a folder of its own on the study's disk, so that taking it in is one
step; what nobody took is thrown away when the page is closed or opened again.
"""

import hashlib
import os
import secrets
import shutil
import threading
from collections.abc import AsyncIterator
from dataclasses import dataclass
from io import BufferedWriter
from pathlib import Path
from tempfile import TemporaryDirectory

from starlette.concurrency import run_in_threadpool

from bonewright.study.disk_faults import not_saved
from bonewright.study.file_intake import LARGEST_INTAKE_BYTES, FileKind, kind_of, safe_name
from bonewright.study.within import stands_within
from bonewright.web.failures import Refusal

__all__ = ["Arrival", "Incoming"]

_PLACE = ".incoming"
_PIECE_BYTES = 1 << 20
_ROOM_LEFT_BYTES = 200 << 20
_MOST_WAITING = 5000


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """A file that was received. ``stack`` names the folder it came in, if it is a slice."""

    key: str
    name: str
    path: Path
    size_bytes: int
    checksum: str
    kind: FileKind
    stack: str


class Incoming:
    """The files received by one session. Every method may be called from any thread.

    Parameters
    ----------
    folder : Path
        The study folder.
    """

    def __init__(self, folder: Path) -> None:
        self._place = folder / _PLACE
        self._lock = threading.Lock()
        self._waiting: dict[str, Arrival] = {}
        self._mine: TemporaryDirectory[str] | None = None

    def close(self) -> None:
        """Throw away what nobody took."""
        with self._lock:
            self._waiting.clear()
            if self._mine is not None:
                self._mine.cleanup()
                self._mine = None
        try:
            self._place.rmdir()
        except OSError:
            return  # another session's files are there, or there is none

    async def receive(
        self, name: str, content: AsyncIterator[bytes], *, announced_bytes: int | None, stack: str
    ) -> Arrival:
        """Write a file down piece by piece, and look at it.

        Raises
        ------
        BonewrightError
            If it is too large, the disk is full, or it is nothing a study takes.
        """
        key = secrets.token_hex(12)
        safe = safe_name(name)
        self._refuse_too_much(announced_bytes or 0, safe)
        path = await run_in_threadpool(self._new_place, key, safe)
        digest, size = hashlib.sha256(), 0
        try:
            with path.open("xb") as file:
                piece = bytearray()
                async for chunk in content:
                    piece += chunk
                    size += len(chunk)
                    if size > LARGEST_INTAKE_BYTES:
                        self._refuse_too_much(size, safe)
                    if len(piece) >= _PIECE_BYTES:
                        digest.update(piece)
                        await run_in_threadpool(file.write, bytes(piece))
                        piece.clear()
                digest.update(piece)
                file.write(piece)
                await run_in_threadpool(_flush, file)
            kind = await run_in_threadpool(kind_of, path, safe, of_stack=bool(stack))
        except OSError as error:
            self._drop(path)
            raise not_saved(safe, error, folder=self._place.parent) from error
        except BaseException:
            self._drop(path)
            raise
        arrival = Arrival(
            key=key,
            name=safe,
            path=path,
            size_bytes=size,
            checksum=digest.hexdigest(),
            kind=kind,
            stack=safe_name(stack) if stack else "",
        )
        with self._lock:
            self._waiting[key] = arrival
        return arrival

    def waiting(self, key: str) -> Arrival:
        """Return a file that was received and not taken yet.

        Raises
        ------
        Refusal
            If there is none.
        """
        with self._lock:
            arrival = self._waiting.get(key)
        if arrival is None or not arrival.path.is_file():
            raise Refusal(
                404, "The file is no longer waiting.", remedy="Choose it, or drop it, again."
            )
        return arrival

    def forget(self, key: str) -> None:
        """Throw a file away, or forget one that was taken."""
        with self._lock:
            arrival = self._waiting.pop(key, None)
        if arrival is not None:
            self._drop(arrival.path)

    def _refuse_too_much(self, size: int, name: str) -> None:
        if size > LARGEST_INTAKE_BYTES:
            raise Refusal(
                413,
                f"{name} is larger than the page accepts ({LARGEST_INTAKE_BYTES >> 20} MB).",
                remedy="Save a smaller version of it, or copy it into files/ by hand.",
            )
        if shutil.disk_usage(self._place.parent).free < size + _ROOM_LEFT_BYTES:
            raise Refusal(
                507,
                f"The disk has no room for {name}.",
                remedy="Make room on the disk, then choose the file again.",
            )

    def _new_place(self, key: str, name: str) -> Path:
        with self._lock:
            if len(self._waiting) >= _MOST_WAITING:
                raise Refusal(
                    413,
                    f"More than {_MOST_WAITING:,} files are waiting.",
                    remedy="Take or throw away those first.",
                )
            if not stands_within(self._place, self._place.parent):
                raise Refusal(
                    422,
                    f"The study's folder {_PLACE} is a link to a place outside it.",
                    remedy="Take the link away.",
                )
            try:
                self._place.mkdir(exist_ok=True)
                if self._mine is None:
                    self._mine = TemporaryDirectory(dir=self._place)
                # The ending tells readers what to read; the folder keeps names apart.
                place = Path(self._mine.name) / key
                place.mkdir()
            except OSError as error:
                raise not_saved(name, error, folder=self._place.parent) from error
        return place / name

    @staticmethod
    def _drop(path: Path) -> None:
        shutil.rmtree(path.parent, ignore_errors=True)


def _flush(file: BufferedWriter) -> None:
    file.flush()
    os.fsync(file.fileno())
