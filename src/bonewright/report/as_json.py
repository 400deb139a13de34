"""All findings as JSON, against a published schema that scripts can rely on."""

import contextlib
import json
import os
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bonewright import __version__
from bonewright.errors import BonewrightError
from bonewright.findings import Doubt, Exact, Finding, RowRef, Statement
from bonewright.literature import PUBLICATIONS
from bonewright.quantity import Quantity
from bonewright.study.within import results_place

if TYPE_CHECKING:
    from bonewright.pipeline import Run

__all__ = ["FORMAT", "findings_json", "findings_schema", "write_findings"]

FORMAT = 1
"""Version of the format; it grows when a reader of the old one could be misled."""

_DIGITS = 12


def findings_schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of :func:`findings_json`."""
    text = (Path(__file__).parent / "findings.schema.json").read_text(encoding="utf-8")
    schema: dict[str, Any] = json.loads(text)
    return schema


def _number(value: float) -> float:
    # Twelve digits are alike on every machine; the last few of a double need not be.
    return float(f"{value:.{_DIGITS}g}")


def _row(ref: RowRef) -> dict[str, Any]:
    return {"table": ref.table, "row": ref.row, "id": ref.row_id}


def _source(key: str) -> dict[str, Any]:
    publication = PUBLICATIONS.get(key)
    return {
        "key": key,
        "citation": key if publication is None else publication.citation,
        "status": "not in the list of publications" if publication is None else publication.status,
    }


def _finding(finding: Finding) -> dict[str, Any]:
    value: dict[str, Any] = dict.fromkeys(
        (
            "value",
            "mean",
            "unit",
            "interval50",
            "interval95",
            "text",
            "why_no_interval",
        )
    )
    match finding.value:
        case Quantity() as quantity:
            summary = quantity.summary()
            kind = "quantity"
            value |= {
                "value": _number(summary.median),
                "mean": _number(summary.mean),
                "unit": quantity.unit,
                "interval50": [_number(end) for end in summary.interval50],
                "interval95": [_number(end) for end in summary.interval95],
            }
        case Exact() as exact:
            kind = "exact"
            value |= {
                "value": _number(exact.value),
                "unit": exact.unit,
                "why_no_interval": exact.why_no_interval,
            }
        case Statement() as statement:
            kind = "statement"
            value |= {"text": statement.text}
    return {
        "key": finding.key,
        "step": finding.step,
        "title": finding.title,
        "kind": kind,
        **value,
        "n": finding.n,
        "n_of": finding.n_of,
        "how": {
            "formula": finding.how.formula,
            "inputs": list(finding.how.inputs),
            "rows": [_row(ref) for ref in finding.how.rows],
            "sources": [_source(key) for key in finding.how.sources],
        },
        "warnings": [
            {"code": c.code, "text": c.text, "rows": [_row(ref) for ref in c.rows]}
            for c in finding.caveats
        ],
    }


def _doubt(doubt: Doubt) -> dict[str, Any]:
    return {
        **_row(doubt.ref),
        "column": doubt.column,
        "kind": doubt.kind,
        "found": doubt.found,
        "expected": doubt.expected,
        "mend": doubt.mend,
        "held_out": doubt.held_out,
        "decided": doubt.decided,
    }


def findings_json(run: "Run") -> dict[str, Any]:
    """Return every finding of a run as plain values that JSON can hold.

    ``value`` is the median of a quantity, or the number itself where it has no interval;
    intervals are central, 50 and 95 %. Numbers keep twelve significant digits.
    """
    settings = run.study.settings
    verdict = run.verdict
    return {
        "format": FORMAT,
        "bonewright": __version__,
        "study": {
            "title": settings.study.title,
            "question": settings.study.question,
            "invented": settings.study.invented,
            "animal": settings.animal.name,
            "scientific_name": settings.animal.scientific_name,
            "place": settings.animal.place,
        },
        "seed": settings.draws.seed,
        "n_draws": settings.draws.count,
        "verdict": {
            "mass": verdict.mass_sentence,
            "agreement": verdict.agreement_sentence,
            "movement": verdict.movement_sentence,
            "testimony": verdict.testimony_sentence,
            "warnings": [
                {"code": c.code, "text": c.text, "rows": [_row(ref) for ref in c.rows]}
                for c in verdict.caveats
            ],
        },
        "findings": [_finding(finding) for finding in run.findings],
        "doubts": [_doubt(doubt) for doubt in run.doubts],
        "unanswered": [{"step": step, "why": why} for step, why in run.unanswered.items()],
    }


def as_text(content: dict[str, Any]) -> str:
    """Write JSON with a line for each entry of each list: quick to write, and fit to compare."""

    def one(value: object) -> str:
        return json.dumps(value, ensure_ascii=False, allow_nan=False)

    def part(value: object) -> str:
        if isinstance(value, list) and value:
            return "[\n" + ",\n".join(map(one, value)) + "\n]"
        return one(value)

    return (
        "{\n"
        + ",\n".join(f"{one(name)}: {part(value)}" for name, value in content.items())
        + "\n}\n"
    )


def write_findings(run: "Run", folder: Path) -> Path | None:
    """Write ``results/findings.json`` in the study folder, whole or not at all.

    Returns None where the folder cannot be written: reading a study on a read-only disk
    still gives its findings.
    """
    target = folder / "results" / "findings.json"
    text = as_text(findings_json(run))
    try:
        results_place(folder)
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=".findings-")
    except (OSError, BonewrightError):
        return None
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(text)
        Path(name).chmod(0o644)
        Path(name).replace(target)
    except OSError:
        with contextlib.suppress(OSError):
            Path(name).unlink()
        return None
    return target
