"""The documentation of every table, column and setting, generated from the schemas."""

import html
from collections.abc import Iterator
from typing import get_args

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from bonewright.study.bone_codes import (
    CODES_OF_ELEMENT,
    ELEMENTS,
    MEASUREMENT_CODES,
    code_meaning,
)
from bonewright.study.bone_drawings import bone_drawing, drawing_words
from bonewright.study.columns import Column, Table
from bonewright.study.schemas import TABLES
from bonewright.study.settings import Settings
from bonewright.study.spelling import listed

__all__ = [
    "columns_markdown",
    "guide_html",
    "guide_markdown",
    "measuring_files",
    "section_model",
]

_LONG_LISTS = {ELEMENTS: "an element (below)", tuple(MEASUREMENT_CODES): "a code (below)"}
_HEADINGS = ("Column", "What it holds", "Needed", "May be", "Example")

_TO_BEGIN = ("sources", "specimens", "measurements", "relatives", "relative_measurements")
"""The tables that give a first answer: the average skeleton, and a mass from leg bones."""

_BEGIN = (
    f"To begin, these five tables: {listed(_TO_BEGIN, last='and')}. They give the average skeleton"
    " and a first mass; the other tables may stay empty until you have something for them.",
    "In study.toml, fill in the question and the animal's name. All the rest can wait: every"
    " setting holds what most studies use.",
)

_HOW_TO = (
    *_BEGIN,
    "One table is one file in the folder tables, named as the table, such as"
    " measurements.csv; or a sheet of that name in one workbook (xlsx or ods) there.",
    "The first row holds the names of the columns, as they stand here. Every row below is"
    " one thing. Columns that are not needed may be left out.",
    "Save from the spreadsheet as CSV UTF-8. Commas, semicolons and tabs all serve; write"
    " decimals with a point or with a comma, but one way in one file, and no separators"
    " between thousands.",
    "Leave a cell empty when something is not known. Never write 0 for it.",
    "Fill in sources first, then specimens and measurements; each later table refers to"
    " rows of earlier ones by the name in their first column.",
    "A value outside the plausible range stops the work until you mend it, or keep it with a"
    " reason: a row in decisions.csv.",
    "Old taxidermy and old casts may carry arsenic, mercury or lead, and bone dust is harmful:"
    " ask the conservator before handling or measuring, and follow the rules of the house.",
)


def _may_be(column: Column) -> str:
    if column.choices:
        return _LONG_LISTS.get(column.choices) or ", ".join(column.choices)
    if column.refers_to:
        return f"the name of a row of {column.refers_to}"
    words = {
        "text": "any text",
        "number": "a number",
        "integer": "a whole number",
        "date": "a date",
        "unit": "a unit",
        "file": "a file in files/",
        "yes-no": "yes or no",
        "choice": "",
    }[column.kind]
    if column.minimum is not None:
        words += f" above {column.minimum:g}" if column.exclusive else f" from {column.minimum:g}"
    if column.maximum is not None:
        words += f" to {column.maximum:g}"
    if column.unit_column:
        words += f", in the unit of {column.unit_column}"
    if column.limit:
        words += f"; plausible {column.limit.low:g} to {column.limit.high:g} {column.limit.unit}"
    return words


def _cells(column: Column) -> tuple[str, ...]:
    needed = "yes" if column.required else ""
    return column.name, column.description, needed, _may_be(column), column.example


def section_model(field: FieldInfo) -> type[BaseModel] | None:
    """Return the model of a setting that is a section of its own, or None."""
    for option in (field.annotation, *get_args(field.annotation)):
        if isinstance(option, type) and issubclass(option, BaseModel):
            return option
    return None


def _settings_rows(model: type[BaseModel], path: str = "") -> Iterator[tuple[str, str, str]]:
    for name, field in model.model_fields.items():
        inner = section_model(field)
        if inner is not None and not path:
            yield from _settings_rows(inner, f"{name}.")
            continue
        default = field.default
        if field.is_required():
            shown = "to be filled in"
        elif isinstance(default, BaseModel):
            values = default.model_dump()
            shown = f"{values['value']:g} ({values['low']:g} to {values['high']:g}) "
            shown += values["unit"]
        elif isinstance(default, bool):
            shown = str(default).lower()
        else:
            shown = "none" if default == () else str(default)
        yield path + name, field.description or "", shown


def _table_rows(table: Table) -> list[tuple[str, ...]]:
    return [_cells(column) for column in table.columns]


def _markdown_table(headings: tuple[str, ...], rows: list[tuple[str, ...]]) -> list[str]:
    lines = ["| " + " | ".join(headings) + " |", "|" + " --- |" * len(headings)]
    lines += ["| " + " | ".join(cell.replace("|", "\\|") for cell in row) + " |" for row in rows]
    return lines


def _parts() -> Iterator[tuple[str, str, tuple[str, ...], list[tuple[str, ...]]]]:
    """Yield each part of the documentation: title, introduction, headings, rows."""
    for table in TABLES:
        introduction = f"File: tables/{table.name}.csv. {table.description}"
        title = f"{table.title} (to begin)" if table.name in _TO_BEGIN else table.title
        yield title, introduction, _HEADINGS, _table_rows(table)
    yield (
        "Measurement codes",
        "Codes of von den Driesch (1976); the meanings are in short. CD, Bm and Dm are added. A"
        " code that does not fit its bone is a problem; a study's own go into codes.csv.",
        ("Code", "Meaning", "Taken on"),
        [
            (
                code,
                meaning,
                ", ".join(bone for bone, codes in CODES_OF_ELEMENT.items() if code in codes),
            )
            for code, meaning in MEASUREMENT_CODES.items()
        ],
    )
    yield "Elements", f"An element is one of: {listed(ELEMENTS)}.", (), []
    yield (
        "Settings",
        "File: study.toml. Each choice stands with its reason; what is left out is as shown.",
        ("Setting", "What it is", "If left out"),
        list(_settings_rows(Settings)),
    )


def _markdown_parts() -> list[str]:
    lines: list[str] = []
    for title, introduction, headings, rows in _parts():
        lines += [f"## {title}", "", introduction, ""]
        if rows:
            lines += [*_markdown_table(headings, rows), ""]
    return lines


def columns_markdown() -> str:
    """Return ``docs/columns.md``."""
    lines = ["# Every table, column and setting", ""]
    lines += ["Generated from the schemas; a test fails when this page differs.", ""]
    return "\n".join([*lines, *_markdown_parts()]).rstrip() + "\n"


def measuring_files() -> dict[str, str]:
    """Return ``docs/measuring.md`` and the drawings beside it, by path below ``docs/``."""
    lines = ["# Where the callipers go", ""]
    lines += ["Generated from the list of codes; a test fails when this page differs.", ""]
    lines += [_MEASURING, ""]
    files = {}
    for element in ELEMENTS:
        path = f"measuring/{element}.svg"
        files[path] = bone_drawing(element) + "\n"
        lines += [f"## {element.capitalize()}", ""]
        lines += [f"![{drawing_words(element)}]({path})", ""]
        rows = [(code, code_meaning(element, code)) for code in CODES_OF_ELEMENT[element]]
        lines += [*_markdown_table(("Code", "Meaning"), [tuple(row) for row in rows]), ""]
    return {"measuring.md": "\n".join(lines).rstrip() + "\n", **files}


_MEASURING = (
    "A line with jaws is an opening of the callipers, a broken ring a strip of paper round the"
    " shaft. Codes are those of von den Driesch (1976); outlines are stylised and of no species."
    " Measure each bone twice on two days, without looking at the first values: what the second"
    " adds is how well you measure. Bone dust and old preservatives harm: mask, gloves, and the"
    " conservator's leave first."
)


def _drawings_html() -> str:
    figures = "\n".join(
        f"<figure><figcaption>{html.escape(element)}</figcaption>{bone_drawing(element)}</figure>"
        for element in ELEMENTS
    )
    return (
        '<section id="callipers"><h2>Where the callipers go</h2>\n'
        f'<p>{html.escape(_MEASURING)}</p>\n<div class="bones">{figures}</div></section>'
    )


def guide_markdown(title: str) -> str:
    """Return the guide page of a study, as text."""
    lines = [f"# How to fill in this study: {title}", ""]
    lines += [f"- {sentence}" for sentence in _HOW_TO]
    return "\n".join([*lines, "", *_markdown_parts()]).rstrip() + "\n"


_STYLE = """
:root { color-scheme: light dark; }
body { font: 16px/1.5 Georgia, 'Times New Roman', serif; max-width: 70rem; margin: 2rem auto;
  padding: 0 1rem; }
h1 { font-size: 1.7rem; } h2 { font-size: 1.25rem; margin-top: 2.5rem; }
.wide { overflow-x: auto; }
table { border-collapse: collapse; font-size: 0.9rem; }
th, td { text-align: left; vertical-align: top; padding: 0.3rem 0.8rem 0.3rem 0;
  border-bottom: 1px solid #8886; }
td:first-child { font-family: ui-monospace, monospace; white-space: nowrap; }
nav a { margin-right: 1rem; }
.bones { display: flex; flex-wrap: wrap; gap: 1rem; align-items: flex-end; }
figure { margin: 0; } figcaption { font-weight: bold; }
.bones svg { max-width: 100%; height: auto; }
"""


def guide_html(title: str) -> str:
    """Return the guide page of a study, as one HTML file that needs nothing else."""
    parts = list(_parts())
    links = " ".join(
        f'<a href="#part-{number}">{html.escape(name)}</a>'
        for number, (name, _, _, _) in enumerate(parts)
    )
    how_to = "".join(f"<li>{html.escape(sentence)}</li>" for sentence in _HOW_TO)
    sections = "\n".join(
        _html_section(number, name, introduction=introduction, headings=headings, rows=rows)
        for number, (name, introduction, headings, rows) in enumerate(parts)
    )
    heading = f"How to fill in this study: {html.escape(title)}"
    return (
        f'<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta name="viewport" content="width=device-width">\n<title>{heading}</title>\n'
        f"<style>{_STYLE}</style>\n</head>\n<body>\n<main>\n<h1>{heading}</h1>\n"
        f'<ul>{how_to}</ul>\n<nav aria-label="Parts">{links}'
        f' <a href="#callipers">Where the callipers go</a></nav>\n{sections}\n{_drawings_html()}\n'
        "</main>\n</body>\n</html>\n"
    )


def _html_section(
    number: int,
    name: str,
    *,
    introduction: str,
    headings: tuple[str, ...],
    rows: list[tuple[str, ...]],
) -> str:
    head = "".join(f'<th scope="col">{html.escape(heading)}</th>' for heading in headings)
    body = "\n".join(
        "<tr>" + "".join(f"<td>{html.escape(cell)}</td>" for cell in row) + "</tr>" for row in rows
    )
    table = ""
    if rows:
        table = (
            f'<div class="wide"><table><thead><tr>{head}</tr></thead>\n'
            f"<tbody>{body}</tbody></table></div>"
        )
    return (
        f'<section id="part-{number}"><h2>{html.escape(name)}</h2>\n'
        f"<p>{html.escape(introduction)}</p>\n{table}</section>"
    )
