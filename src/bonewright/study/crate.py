"""One file to deposit: a zip that is a Research Object Crate (RO-Crate 1.1, open standard).

``ro-crate-metadata.json`` (JSON-LD) names every file with its size and SHA-256; beside it
stands ``datacite.json``, the same facts in the properties a repository asks for. The zip is
made the same byte for byte from the same contents and date.
"""

import datetime
import hashlib
import io
import json
import mimetypes
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any
from urllib.parse import quote, unquote

from bonewright.errors import BonewrightError
from bonewright.study.settings import Settings

__all__ = ["METADATA_FILE", "CrateFacts", "crate_bytes", "open_crate"]

METADATA_FILE = "ro-crate-metadata.json"
DATACITE_FILE = "datacite.json"
_CONTEXT = "https://w3id.org/ro/crate/1.1/context"
_PROFILE = "https://w3id.org/ro/crate/1.1"
_LARGEST_BYTES = 4 * 2**30
_LARGEST_DESCRIPTION_BYTES = 64 * 2**20
_TYPES = {".toml": "application/toml", ".nwk": "text/plain", ".md": "text/markdown"}


@dataclass(frozen=True, slots=True, kw_only=True)
class CrateFacts:
    """What is said of the whole: when made, and with which versions of what software."""

    made: datetime.date
    software: Mapping[str, str]


def crate_bytes(contents: Mapping[str, bytes], settings: Settings, facts: CrateFacts) -> bytes:
    """Pack files into a crate.

    Parameters
    ----------
    contents : mapping of path to bytes
        Every file by its path in the study folder, with ``/`` between folders.
    settings : Settings
        For title, question and who made the study.
    facts : CrateFacts
    """
    files = dict(sorted(contents.items()))
    files[DATACITE_FILE] = _json(_datacite(files, settings, facts))
    files[METADATA_FILE] = _json(_metadata(files, settings, facts))
    moment = (facts.made.year, facts.made.month, facts.made.day, 0, 0, 0)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        # The description first, so that whoever lists the file meets it at once.
        for path in sorted(files, key=lambda name: (name != METADATA_FILE, name)):
            entry = zipfile.ZipInfo(path, date_time=moment)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            archive.writestr(entry, files[path])
    return out.getvalue()


def _json(value: object) -> bytes:
    return (json.dumps(value, indent=2, ensure_ascii=False) + "\n").encode("utf-8")


def _media_type(path: str) -> str:
    suffix = PurePosixPath(path).suffix.lower()
    return _TYPES.get(suffix) or mimetypes.guess_type(path)[0] or "application/octet-stream"


def _metadata(files: Mapping[str, bytes], settings: Settings, facts: CrateFacts) -> dict[str, Any]:
    study, deposit = settings.study, settings.deposit
    licence = {
        "@id": deposit.license_url or "#licence",
        "@type": "CreativeWork",
        "name": deposit.license,
    }
    people = [
        {"@id": f"#creator-{number}", "@type": "Organization", "name": name}
        for number, name in enumerate(deposit.creators, start=1)
    ]
    software = [
        {
            "@id": f"#software-{name.lower()}",
            "@type": "SoftwareApplication",
            "name": name,
            "softwareVersion": version,
        }
        for name, version in facts.software.items()
    ]
    root: dict[str, Any] = {
        "@id": "./",
        "@type": "Dataset",
        "name": study.title,
        "description": _description(settings),
        "datePublished": facts.made.isoformat(),
        "license": {"@id": licence["@id"]},
        "hasPart": [{"@id": _address(path)} for path in files],
        "mentions": [{"@id": "#run"}],
    }
    if people:
        root["creator"] = [{"@id": person["@id"]} for person in people]
    if deposit.keywords:
        root["keywords"] = ", ".join(deposit.keywords)
    run = {
        "@id": "#run",
        "@type": "CreateAction",
        "name": "The run that gave the findings",
        "instrument": [{"@id": program["@id"]} for program in software],
        "object": [
            {"@id": _address(path)}
            for path in files
            if path == "study.toml" or path.startswith(("tables/", "files/"))
        ],
        "result": [{"@id": _address(path)} for path in files if path.startswith("results/")],
    }
    return {
        "@context": [_CONTEXT, {"sha256": "https://schema.org/sha256"}],
        "@graph": [
            {
                "@id": METADATA_FILE,
                "@type": "CreativeWork",
                "conformsTo": {"@id": _PROFILE},
                "about": {"@id": "./"},
            },
            root,
            run,
            licence,
            *people,
            *software,
            *(
                {
                    "@id": _address(path),
                    "@type": "File",
                    "name": PurePosixPath(path).name,
                    "contentSize": str(len(content)),
                    "encodingFormat": _media_type(path),
                    "sha256": hashlib.sha256(content).hexdigest(),
                }
                for path, content in files.items()
            ),
        ],
    }


def _address(path: str) -> str:
    """Return a path as the relative address that the standard asks for: 'a b' is 'a%20b'."""
    return quote(path)


def _description(settings: Settings) -> str:
    opening = "Invented: nothing in it is real. " if settings.study.invented else ""
    return opening + settings.study.question


def _datacite(files: Mapping[str, bytes], settings: Settings, facts: CrateFacts) -> dict[str, Any]:
    """Describe the deposit in DataCite's properties; the repository adds the identifier."""
    deposit = settings.deposit
    creators = deposit.creators or ("(:unkn)",)
    return {
        "creators": [{"name": name, "nameType": "Organizational"} for name in creators],
        "titles": [{"title": settings.study.title}],
        "publisher": {"name": deposit.publisher or "(:unkn)"},
        "publicationYear": str(facts.made.year),
        "types": {"resourceTypeGeneral": "Dataset", "resourceType": "Study with findings"},
        "subjects": [{"subject": word} for word in deposit.keywords],
        "dates": [{"date": facts.made.isoformat(), "dateType": "Created"}],
        "descriptions": [
            {"description": _description(settings), "descriptionType": "Abstract"},
            {
                "description": "; ".join(f"{name} {v}" for name, v in facts.software.items()),
                "descriptionType": "TechnicalInfo",
            },
        ],
        "rightsList": [
            {"rights": deposit.license, "rightsUri": deposit.license_url}
            if deposit.license_url
            else {"rights": deposit.license}
        ],
        "formats": sorted({_media_type(path) for path in files}),
        "sizes": [f"{len(files)} files", f"{sum(map(len, files.values()))} bytes"],
        "schemaVersion": "http://datacite.org/schema/kernel-4",
    }


def open_crate(path: Path) -> dict[str, bytes]:
    """Return the files of a crate by path, each checked against its SHA-256.

    Raises
    ------
    BonewrightError
        If it is no crate, a file is missing, changed or not named in the description, or a
        path leads outside.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            entries = [entry for entry in archive.infolist() if not entry.is_dir()]
            if sum(entry.file_size for entry in entries) > _LARGEST_BYTES:
                raise _refused(path, "it unpacks to more than 4 GB")
            _refuse_the_undescribed(path, archive, entries)
            contents = {entry.filename: archive.read(entry) for entry in entries}
    except FileNotFoundError as error:
        raise BonewrightError(
            f"There is no file {path}.", remedy="See where the archive lies, and name it in full."
        ) from error
    except (OSError, zipfile.BadZipFile, zipfile.LargeZipFile, zlib.error, EOFError) as error:
        raise _refused(path, "it cannot be read as a zip, being damaged or cut short") from error
    except (NotImplementedError, RuntimeError, ValueError) as error:
        raise _refused(path, "it is packed in a way that is not known here") from error
    for name in contents:
        parts = PurePosixPath(name).parts
        if name.startswith("/") or "\\" in name or ".." in parts or ":" in name:
            raise _refused(path, f"the path {name[:80]} leads outside")
    _check(path, contents)
    return contents


def _refuse_the_undescribed(
    path: Path, archive: zipfile.ZipFile, entries: list[zipfile.ZipInfo]
) -> None:
    """Refuse what the description does not speak of, or tells another size of, still packed."""
    sizes = {entry.filename: entry.file_size for entry in entries}
    if not 0 < sizes.get(METADATA_FILE, 0) <= _LARGEST_DESCRIPTION_BYTES:
        raise _refused(path, f"it holds no {METADATA_FILE} that can be read")
    try:
        described = {
            unquote(entity["@id"]): int(entity["contentSize"])
            for entity in json.loads(archive.read(METADATA_FILE))["@graph"]
            if entity.get("@type") == "File"
        }
    except (KeyError, TypeError, ValueError, AttributeError, RecursionError) as error:
        raise _refused(path, f"it holds no {METADATA_FILE} that can be read") from error
    for name, size in sizes.items():
        if name != METADATA_FILE and described.get(name) != size:
            why = "changed" if name in described else "not described"
            raise _refused(path, f"{why}: {name[:80]}")


def _check(path: Path, contents: Mapping[str, bytes]) -> None:
    try:
        graph = json.loads(contents[METADATA_FILE])["@graph"]
        named = {
            unquote(entity["@id"]): entity["sha256"]
            for entity in graph
            if entity.get("@type") == "File"
        }
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise _refused(path, f"it holds no {METADATA_FILE} that can be read") from error
    missing = sorted(set(named) - set(contents))
    strange = sorted(set(contents) - set(named) - {METADATA_FILE})
    changed = sorted(
        name
        for name, mark in named.items()
        if name in contents and hashlib.sha256(contents[name]).hexdigest() != mark
    )
    for names, what in ((missing, "missing"), (changed, "changed"), (strange, "not described")):
        if names:
            more = f" and {len(names) - 3} more" if len(names) > 3 else ""
            raise _refused(path, f"{what}: {', '.join(names[:3])}{more}")


def _refused(path: Path, why: str) -> BonewrightError:
    return BonewrightError(
        f"{path.name} is no whole archive of a study: {why}.",
        remedy="Fetch the file again from where it was deposited.",
    )
