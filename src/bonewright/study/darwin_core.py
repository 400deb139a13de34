"""Darwin Core Archive: the bones of a study out to a collection's system, and in from one.

The archive is the standard's: ``meta.xml`` beside text files, a core of occurrences and an
extension of measurements (MeasurementOrFact). What Darwin Core has no term for (element,
side, preservation, the original of a cast) travels in ``dynamicProperties`` as JSON.
"""

import csv
import io
import json
import zipfile
import zlib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING
from xml.sax.saxutils import quoteattr

from bonewright.errors import BonewrightError
from bonewright.study.atomic import write_atomically
from bonewright.study.importing import ImportPreview, preview_of
from bonewright.study.merging import Merged, merge_rows
from bonewright.study.model import Study
from bonewright.study.museum_words import element_of, value_of
from bonewright.study.raw import RawTable
from bonewright.study.read import read_tables
from bonewright.study.schemas import MEASUREMENTS, MIDLINE_ELEMENTS, SPECIMENS
from bonewright.study.snapshot import read_snapshot
from bonewright.study.wide_rows import Gathered

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

__all__ = ["archive_bytes", "archive_preview", "export_archive", "import_archive"]

_TERMS = "http://rs.tdwg.org/dwc/terms/"
_TEXT = "http://rs.tdwg.org/dwc/text/"
LARGEST_BYTES = 256 * 1024 * 1024
_CORE = (
    "occurrenceID",
    "basisOfRecord",
    "scientificName",
    "institutionCode",
    "catalogNumber",
    "organismID",
    "sex",
    "lifeStage",
    "preparations",
    "occurrenceRemarks",
    "dynamicProperties",
)
_IN_PROPERTIES = ("element", "side", "preservation", "castOf")
_FACTS = (
    "measurementID",
    "measurementType",
    "measurementValue",
    "measurementUnit",
    "measurementAccuracy",
    "measurementDeterminedBy",
    "measurementDeterminedDate",
    "measurementMethod",
    "measurementRemarks",
)


def export_archive(study: Study, path: Path) -> None:
    """Write a checked study's bones and measurements as an archive.

    Raises
    ------
    BonewrightError
        If the file exists or cannot be written.
    """
    if path.exists():
        raise BonewrightError(
            f"{path} exists already.", remedy="Choose another name: nothing is written over."
        )
    try:
        write_atomically(path, archive_bytes(study))
    except OSError as error:
        raise BonewrightError(
            f"{path} could not be written: {error.strerror or error}.",
            remedy="Choose a folder you may write to.",
        ) from error


def archive_bytes(study: Study) -> bytes:
    """Return the archive; the same study gives the same bytes."""
    name = study.settings.animal.scientific_name or study.settings.animal.name
    tables = read_tables(study.folder)
    specimens = _as_dicts(tables["specimens"])
    core = [_occurrence(row, name) for row in specimens]
    facts = [
        {"coreid": row["materialEntityID"], **{term: row.get(term, "") for term in _FACTS}}
        for row in _as_dicts(tables["measurements"])
    ]
    files = {
        "meta.xml": _meta(),
        "occurrence.txt": _tab_separated(_CORE, core),
        "measurementorfact.txt": _tab_separated(("coreid", *_FACTS), facts),
    }
    if study.settings.study.invented:
        files["readme.txt"] = "INVENTED: the animal, its bones and collections never existed.\n"
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for file, text in files.items():
            archive.writestr(zipfile.ZipInfo(file, (1980, 1, 1, 0, 0, 0)), text.encode("utf-8"))
    return out.getvalue()


def import_archive(folder: Path, path: Path) -> Merged:
    """Merge an archive's occurrences and measurements into a study.

    Raises
    ------
    BonewrightError
        If the file is no archive, or holds what cannot be taken.
    """
    return merge_rows(
        folder, _archive_rows(path, _own_names(folder)), what=f"Import of {path.name}"
    )


def archive_preview(folder: Path, path: Path) -> ImportPreview:
    """Say what :func:`import_archive` would do; nothing is written.

    Raises
    ------
    BonewrightError
        If the file is no archive, or holds what cannot be taken.
    """
    return preview_of(folder, _archive_rows(path, _own_names(folder)), Gathered())


def _own_names(folder: Path) -> frozenset[str]:
    """Return what the study calls its animal: said of a bone, it is no news."""
    settings = read_snapshot(folder).settings
    if settings is None:
        return frozenset()
    return frozenset({settings.animal.scientific_name, settings.animal.name} - {""})


def _archive_rows(path: Path, own_names: frozenset[str]) -> dict[str, list[dict[str, str]]]:
    """Return the rows of each table that an archive holds.

    ``own_names`` of the animal are not kept in the remarks of its bones.
    Occurrences that name no bone (in ``dynamicProperties``, ``preparations`` or the remarks)
    cannot be placed and are an error, all named at once.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            if sum(info.file_size for info in archive.infolist()) > LARGEST_BYTES:
                raise BonewrightError(
                    f"{path.name} unpacks to more than {LARGEST_BYTES >> 20} MB.",
                    remedy="Export the bones of this study alone.",
                )
            core, extensions = _read_meta(archive, path.name)
            occurrences = _read_rows(archive, core)
            facts = [
                row
                for part in extensions
                if part.get("rowType", "").endswith(("MeasurementOrFact", "MeasurementOrFacts"))
                for row in _read_rows(archive, part)
            ]
    except (
        OSError,
        zipfile.BadZipFile,
        zlib.error,
        csv.Error,
        EOFError,
        LookupError,
        RuntimeError,
        TypeError,
        ValueError,
    ) as error:
        raise BonewrightError(
            f"{path.name} is no Darwin Core Archive: {error}.",
            remedy="Choose a zip that holds meta.xml and the files it names.",
        ) from error
    source_id = f"import-{path.stem}"
    nameless = [row["id"] for row in occurrences if _element(row) is None]
    if nameless:
        raise BonewrightError(
            f"{len(nameless)} occurrences do not say which bone they are:"
            f" {', '.join(nameless[:8])}.",
            remedy='Put {"element": "femur"} into dynamicProperties, or import a spreadsheet.',
        )
    known = {row["id"] for row in occurrences}
    return {
        "sources": [
            {
                "sourceID": source_id,
                "bibliographicCitation": f"Darwin Core Archive {path.name}",
                "sourceKind": "collection record",
            }
        ],
        "specimens": [_specimen(row, source_id, own_names) for row in occurrences],
        "measurements": [
            {**{term: row.get(term, "") for term in _FACTS}, "materialEntityID": row["id"]}
            | {"measurementID": row.get("measurementID") or f"{row['id']}-{number}"}
            for number, row in enumerate(facts, start=1)
            if row["id"] in known
        ],
    }


def _as_dicts(table: RawTable) -> list[dict[str, str]]:
    return [
        {name: cell.strip() for name, cell in zip(table.header, row, strict=False)}
        for row in table.rows
    ]


def _occurrence(row: Mapping[str, str], name: str) -> dict[str, str]:
    properties = {column: row[column] for column in _IN_PROPERTIES if row.get(column)}
    return {
        "occurrenceID": row["materialEntityID"],
        "basisOfRecord": "PreservedSpecimen",
        "scientificName": name,
        "occurrenceRemarks": row.get("materialEntityRemarks", ""),
        "dynamicProperties": json.dumps(properties, ensure_ascii=False),
        **{
            column: row.get(column, "")
            for column in (
                "institutionCode",
                "catalogNumber",
                "organismID",
                "sex",
                "lifeStage",
                "preparations",
            )
        },
    }


def _meta() -> str:
    def part(tag: str, key: str, kind: str, file: str, terms: Sequence[str], first: int) -> str:
        fields = "".join(
            f'    <field index="{number}" term={quoteattr(_TERMS + term)}/>\n'
            for number, term in enumerate(terms, start=first)
        )
        return (
            f'  <{tag} encoding="UTF-8" fieldsTerminatedBy="\\t" linesTerminatedBy="\\n"'
            f' fieldsEnclosedBy="" ignoreHeaderLines="1" rowType="{_TERMS}{kind}">\n'
            f"    <files><location>{file}</location></files>\n"
            f'    <{key} index="0"/>\n{fields}  </{tag}>\n'
        )

    return (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<archive xmlns="{_TEXT}">\n'
        + part("core", "id", "Occurrence", "occurrence.txt", _CORE, 0)
        + part("extension", "coreid", "MeasurementOrFact", "measurementorfact.txt", _FACTS, 1)
        + "</archive>\n"
    )


def _tab_separated(columns: Sequence[str], rows: Sequence[Mapping[str, str]]) -> str:
    lines = ["\t".join(columns)]
    lines += ["\t".join(" ".join(row.get(c, "").split()) for c in columns) for row in rows]
    return "\n".join(lines) + "\n"


def _read_meta(archive: zipfile.ZipFile, name: str) -> "tuple[Element, list[Element]]":
    from defusedxml.common import DefusedXmlException
    from defusedxml.ElementTree import ParseError, fromstring

    try:
        root = fromstring(archive.read("meta.xml"))
    except (ParseError, DefusedXmlException) as error:
        raise BonewrightError(
            f"meta.xml in {name} cannot be read.", remedy="Export the archive anew."
        ) from error
    core = root.find(f"{{{_TEXT}}}core")
    if core is None:
        raise BonewrightError(
            f"meta.xml in {name} names no core.", remedy="Export the archive anew."
        )
    return core, root.findall(f"{{{_TEXT}}}extension")


def _read_rows(archive: zipfile.ZipFile, part: "Element") -> list[dict[str, str]]:
    """Read the text file of a core or an extension: terms to cells, ``id`` the core's name."""
    location = part.find(f"{{{_TEXT}}}files/{{{_TEXT}}}location")
    if location is None or not location.text:
        raise KeyError("a file that meta.xml should name")
    delimiter = part.get("fieldsTerminatedBy", "\\t").replace("\\t", "\t") or "\t"
    quote = part.get("fieldsEnclosedBy", '"')
    text = archive.read(location.text.strip()).decode(part.get("encoding", "UTF-8"), "replace")
    records = csv.reader(
        io.StringIO(text, newline=""),
        delimiter=delimiter[0],
        quotechar=quote or '"',
        quoting=csv.QUOTE_MINIMAL if quote else csv.QUOTE_NONE,
    )
    rows = list(records)[int(part.get("ignoreHeaderLines", "0")) :]
    places, fixed = {}, {}
    for field in part.iter(f"{{{_TEXT}}}field"):
        term = field.get("term", "").rpartition("/")[2]
        if field.get("index") is None:
            fixed[term] = field.get("default", "")
        else:
            places[int(field.get("index", "0"))] = term
    key = next(
        int(node.get("index", "0"))
        for tag in ("id", "coreid")
        for node in part.iter(f"{{{_TEXT}}}{tag}")
    )
    return [
        {**fixed, **{places[n]: cell.strip() for n, cell in enumerate(row) if n in places}}
        | {"id": row[key].strip()}
        for row in rows
        if row and key < len(row)
    ]


def _properties(row: Mapping[str, str]) -> dict[str, str]:
    try:
        content = json.loads(row.get("dynamicProperties") or "{}")
    except json.JSONDecodeError:
        return {}
    return {str(k): str(v) for k, v in content.items()} if isinstance(content, dict) else {}


def _element(row: Mapping[str, str]) -> str | None:
    texts = (_properties(row).get("element", ""), row.get("preparations", ""))
    found = (element_of(text) for text in (*texts, row.get("occurrenceRemarks", "")) if text)
    return next((element for element in found if element), None)


def _specimen(row: Mapping[str, str], source_id: str, own_names: frozenset[str]) -> dict[str, str]:
    properties = _properties(row)
    element = _element(row) or ""
    side = value_of("side", properties.get("side", "")) or "unknown"
    specimen = {
        "materialEntityID": row["id"],
        "institutionCode": row.get("institutionCode") or "not given",
        "catalogNumber": row.get("catalogNumber") or row["id"],
        "organismID": row.get("organismID", ""),
        "element": element,
        "side": "midline" if element in MIDLINE_ELEMENTS else side,
        "sex": value_of("sex", row.get("sex", "")) or "unknown",
        "lifeStage": value_of("lifeStage", row.get("lifeStage", "")) or "unknown",
        "preparations": value_of("preparations", row.get("preparations", "")) or "bone",
        "castOf": properties.get("castOf", ""),
        "preservation": value_of("preservation", properties.get("preservation", "")) or "complete",
        "sourceID": source_id,
        "materialEntityRemarks": row.get("occurrenceRemarks", ""),
    }
    used = {column.name for column in (*SPECIMENS.columns, *MEASUREMENTS.columns)}
    used |= {"id", "occurrenceID", "occurrenceRemarks", "dynamicProperties", "basisOfRecord"}
    if row.get("scientificName") in own_names:
        used |= {"scientificName"}
    more = [f"{term}: {cell}" for term, cell in row.items() if cell and term not in used]
    more += [f"{k}: {v}" for k, v in properties.items() if k not in _IN_PROPERTIES]
    remarks = [specimen["materialEntityRemarks"], *more]
    specimen["materialEntityRemarks"] = "; ".join(text for text in remarks if text)
    return specimen
