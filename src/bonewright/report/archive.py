"""Deposit a study with its findings as one file, and open it again with nothing lost."""

import datetime
import importlib.metadata
import json
import platform
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bonewright import __version__
from bonewright.errors import BonewrightError
from bonewright.pipeline import run_study
from bonewright.remembering import fingerprint
from bonewright.report.as_json import findings_json
from bonewright.study.atomic import write_atomically
from bonewright.study.crate import CrateFacts, crate_bytes, open_crate
from bonewright.study.load import load_study
from bonewright.study.package import DATA_PACKAGE_FILE, data_package

if TYPE_CHECKING:
    from bonewright.pipeline import Run

__all__ = [
    "Reopened",
    "archive_name",
    "reopen",
    "run_facts",
    "software_versions",
    "study_files",
    "write_archive",
]

FINDINGS_FILE = "results/findings.json"
RUN_FILE = "results/run.json"
_LIBRARIES = ("numpy", "scipy", "numba", "scikit-image", "shapely", "dendropy")
# The history stays with the study it leads back in: an archive is the study at one moment.
_NOT_KEPT = {"results", "history", "__pycache__"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Reopened:
    """What came of running a reopened study.

    ``identical`` says whether every finding is the archived one bit for bit; ``differing``
    names those that are not, by key, and ``versions`` the software that changed since.
    """

    identical: bool
    differing: tuple[str, ...]
    versions: tuple[str, ...]


def software_versions() -> dict[str, str]:
    """Return the programs and libraries that the numbers depend on, by name."""
    found = {"Bonewright": __version__, "Python": platform.python_version()}
    for name in _LIBRARIES:
        try:
            found[name] = importlib.metadata.version(name)
        except importlib.metadata.PackageNotFoundError:
            continue
    return found


def study_files(folder: Path) -> Iterator[tuple[str, Path]]:
    """Yield every file of a study by its path in the folder; results and history are left out."""
    root = folder.resolve()
    for path in sorted(folder.rglob("*")):
        parts = path.relative_to(folder).parts
        hidden = any(part.startswith((".", "~$")) for part in parts)
        within = path.is_file() and path.resolve().is_relative_to(root)
        if within and not hidden and parts[0] not in _NOT_KEPT:
            yield "/".join(parts), path


def run_facts(run: "Run") -> dict[str, Any]:
    """Return what is needed to see whether a later run gives the same, as plain values."""
    return {
        "software": software_versions(),
        "seed": run.study.settings.draws.seed,
        "draws": run.study.settings.draws.count,
        "findings_fingerprint": fingerprint(run.findings),
        "fingerprints": {finding.key: fingerprint(finding) for finding in run.findings},
    }


def write_archive(run: "Run", folder: Path, target: Path, *, made: datetime.date) -> Path:
    """Write the study, its findings and its report as one RO-Crate.

    Parameters
    ----------
    run : Run
        The run of ``folder`` as it stands.
    target : Path
        The file to write, ``.zip``.
    made : date
        The date that the archive bears.

    Raises
    ------
    BonewrightError
        If a file of the study cannot be read or the archive not be written.
    """
    from bonewright.report.document import document_of
    from bonewright.report.html import html_of
    from bonewright.report.pdf import pdf_of

    document = document_of(run, made=made)
    try:
        contents = {name: path.read_bytes() for name, path in study_files(folder)}
        contents[DATA_PACKAGE_FILE] = _json(data_package(folder))
        contents[FINDINGS_FILE] = _json(findings_json(run))
        contents[RUN_FILE] = _json(run_facts(run))
        contents["results/report.pdf"] = pdf_of(document)
        contents["results/report.html"] = html_of(document).encode("utf-8")
        facts = CrateFacts(made=made, software=software_versions())
        write_atomically(target, crate_bytes(contents, run.study.settings, facts))
    except OSError as error:
        raise BonewrightError(
            f"The archive could not be written: {error.strerror or error}.",
            remedy="Make room or allow writing there, and see that every file can be read.",
        ) from error
    return target


def archive_name(run: "Run", made: datetime.date) -> str:
    """Return a name for the archive's file: the study's title and the date."""
    title = re.sub(r"[^a-z0-9]+", "-", run.study.settings.study.title.lower()).strip("-")[:60]
    return f"{title or 'study'}-{made.isoformat()}.zip"


def reopen(archive: Path, folder: Path) -> Reopened:
    """Unpack an archive into a new folder, run it, and compare with what it holds.

    Raises
    ------
    BonewrightError
        If the archive is not whole, or the folder is there already and not empty.
    """
    contents = open_crate(archive)
    if folder.exists() and any(folder.iterdir()):
        raise BonewrightError(
            f"The folder {folder} is not empty.", remedy="Name a folder that does not exist yet."
        )
    if RUN_FILE not in contents:
        raise BonewrightError(
            f"{archive.name} holds no run to compare with.",
            remedy="Open an archive that bonewright archive wrote.",
        )
    try:
        for name, content in contents.items():
            target = folder / name
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(content)
    except OSError as error:
        raise BonewrightError(
            f"The archive could not be unpacked: {error.strerror or error}.",
            remedy="Make room or allow writing there.",
        ) from error
    kept = json.loads(contents[RUN_FILE])
    now = run_facts(run_study(load_study(folder)))
    before, after = kept["fingerprints"], now["fingerprints"]
    return Reopened(
        identical=kept["findings_fingerprint"] == now["findings_fingerprint"],
        differing=tuple(
            key for key in dict.fromkeys((*before, *after)) if before.get(key) != after.get(key)
        ),
        versions=tuple(
            f"{name} {kept['software'].get(name, 'none')} then, {version} now"
            for name, version in now["software"].items()
            if kept["software"].get(name) != version
        ),
    )


def _json(value: object) -> bytes:
    return (json.dumps(value, indent=2, ensure_ascii=False) + "\n").encode("utf-8")
