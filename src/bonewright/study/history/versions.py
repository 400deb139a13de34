"""Versions: what each file of a study has ever held, under the name of its content."""

import gzip
import io
import zlib
from pathlib import Path, PurePosixPath

from bonewright.errors import BonewrightError
from bonewright.study.atomic import make_folder, steadily, write_atomically
from bonewright.study.raw import content_hash
from bonewright.study.read import LARGEST_FILE_BYTES

__all__ = ["Versions"]

# A spreadsheet opens the small ones as they are; of a large table a hundred saves would fill disks.
_LARGEST_PLAIN_BYTES = 64 * 1024


def _unpacked(packed: bytes) -> bytes:
    """Unpack a version, no further than the largest file that is kept."""
    with gzip.GzipFile(fileobj=io.BytesIO(packed)) as file:
        return file.read(LARGEST_FILE_BYTES + 1)


class Versions:
    """Contents by file and SHA-256, below ``history/versions``.

    Parameters
    ----------
    place : Path
        The folder; made when the first version is kept.
    """

    def __init__(self, place: Path) -> None:
        self._place = place

    def _plain(self, path: str, mark: str) -> Path:
        name = PurePosixPath(path)
        return self._place / name.parent / name.name / f"{mark}{name.suffix}"

    def _packed(self, path: str, mark: str) -> Path:
        plain = self._plain(path, mark)
        return plain.with_name(plain.name + ".gz")

    def keep(self, path: str, content: bytes) -> str:
        """Keep a version of a file and return its mark, on the disk for good.

        Raises
        ------
        OSError
            If it cannot be written.
        """
        mark = content_hash(content)
        plain, packed = self._plain(path, mark), self._packed(path, mark)
        if plain.exists() or packed.exists():
            return mark
        make_folder(plain.parent)
        if len(content) <= _LARGEST_PLAIN_BYTES:
            write_atomically(plain, content)
        else:
            # Without a time in it, so that the same content is the same file.
            write_atomically(packed, gzip.compress(content, compresslevel=1, mtime=0))
        return mark

    def content(self, path: str, mark: str) -> bytes:
        """Return a version of a file.

        Raises
        ------
        BonewrightError
            If it is gone or no longer what it was.
        """
        plain, packed = self._plain(path, mark), self._packed(path, mark)
        content: bytes | None = None
        if plain.exists():
            content = steadily(plain.read_bytes)
        elif packed.exists():
            try:
                content = _unpacked(steadily(packed.read_bytes))
            except (EOFError, OSError, zlib.error):
                content = None
        if content is None or content_hash(content) != mark:
            where = f"history/versions/{path}"
            raise BonewrightError(
                f"A version of {path} in the study's history is gone or was changed.",
                remedy=f"Bring {where} back from a backup, or go back to another moment.",
            )
        return content
