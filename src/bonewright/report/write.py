"""The report's files, written whole or not at all."""

import datetime
import os
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from bonewright.errors import BonewrightError
from bonewright.study.within import RESULTS_FOLDER, results_place

if TYPE_CHECKING:
    from bonewright.pipeline import Run

__all__ = ["write_report"]


def write_report(run: "Run", folder: Path) -> tuple[Path, Path]:
    """Write ``results/report.pdf`` and ``results/report.html`` in the study folder.

    Returns
    -------
    tuple of Path
        The PDF and the HTML file.

    Raises
    ------
    BonewrightError
        If the folder cannot be written; a report already there is left as it was.
    """
    from bonewright.report.document import document_of
    from bonewright.report.html import html_of
    from bonewright.report.pdf import pdf_of

    document = document_of(run, made=datetime.datetime.now(tz=datetime.UTC).date())
    contents = {
        "report.pdf": pdf_of(document),
        "report.html": html_of(document).encode("utf-8"),
    }
    results = folder / RESULTS_FOLDER
    try:
        results = results_place(folder)
        for name, content in contents.items():
            _write_whole(results / name, content)
    except OSError as error:
        raise BonewrightError(
            f"The report could not be written to {results}: {error.strerror or error}.",
            remedy="Make room, allow writing there, or close the report where it is open.",
        ) from error
    return results / "report.pdf", results / "report.html"


def _write_whole(target: Path, content: bytes) -> None:
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.stem}-")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        Path(name).chmod(0o644)
        Path(name).replace(target)
    except OSError:
        Path(name).unlink(missing_ok=True)
        raise
