"""Make a blank study: settings with every choice explained, empty tables, a guide page."""

from collections.abc import Iterator
from pathlib import Path

import tomlkit
from pydantic import BaseModel
from pydantic.fields import FieldInfo
from tomlkit.items import Table as TomlTable

from bonewright.errors import BonewrightError
from bonewright.study.atomic import write_atomically
from bonewright.study.document import guide_html, guide_markdown, section_model
from bonewright.study.package import write_data_package
from bonewright.study.raw import Dialect, RawTable, empty_table
from bonewright.study.save import csv_bytes
from bonewright.study.schemas import TABLES
from bonewright.study.settings import Settings
from bonewright.study.settings_file import SETTINGS_FILE

__all__ = ["new_study", "settings_template"]

_FIRST_THAT_CAN_WAIT = "draws"
_TO_FILL_IN = {
    "question": "How large and how heavy was an average adult, and could it run?",
    "name": "the lost animal",
}


def new_study(folder: Path, *, title: str = "My study") -> None:
    """Make a blank study in a folder that does not exist or is empty.

    Parameters
    ----------
    folder : Path
        Where to make it.
    title : str
        Title of the study.

    Raises
    ------
    BonewrightError
        If the folder holds anything, or cannot be written.
    """
    if not title.strip():
        raise BonewrightError("A study needs a title.", remedy="Give it a few words.")
    try:
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise BonewrightError(
                f"{folder} is not an empty folder.",
                remedy="Choose a new name: nothing is ever written over.",
            )
        _write(folder, title.strip())
    except OSError as error:
        raise BonewrightError(
            f"The study could not be made in {folder}: {error.strerror or error}.",
            remedy="Choose a folder you may write to.",
        ) from error


def _write(folder: Path, title: str) -> None:
    (folder / "tables").mkdir(parents=True)
    (folder / "files").mkdir()
    write_atomically(folder / SETTINGS_FILE, settings_template(title).encode("utf-8"))
    for table in TABLES:
        content = csv_bytes(_blank_table(table.name))
        write_atomically(folder / "tables" / f"{table.name}.csv", content)
    write_atomically(folder / "GUIDE.md", guide_markdown(title).encode("utf-8"))
    write_atomically(folder / "guide.html", guide_html(title).encode("utf-8"))
    write_data_package(folder)


def _blank_table(name: str) -> RawTable:
    blank = empty_table(name)
    # With the byte-order mark a spreadsheet opens the file as UTF-8 and saves it so again.
    return RawTable(
        name=blank.name, file=blank.file, header=blank.header, dialect=Dialect(byte_order_mark=True)
    )


def settings_template(title: str) -> str:
    """Return a study.toml in which every setting stands with what it means.

    Parameters
    ----------
    title : str
        Title of the study.
    """
    document = tomlkit.document()
    document.add(tomlkit.comment("The animal, the question and the choices of this study."))
    document.add(tomlkit.comment("A line that begins with # is a remark and is not read."))
    document.add(tomlkit.comment("To begin, write two lines of your own: question and name, just"))
    document.add(tomlkit.comment("below. All the rest can wait: it holds what most studies use."))
    for name, field in Settings.model_fields.items():
        model = section_model(field)
        if model is None:
            raise TypeError(f"the setting {name} stands in no section")
        document.add(tomlkit.nl())
        if name == _FIRST_THAT_CAN_WAIT:
            document.add(tomlkit.comment("From here on, all can wait."))
            document.add(tomlkit.nl())
        document.add(tomlkit.comment(_first_line(model)))
        if field.default is None:
            for line in _commented_section(name, model):
                document.add(tomlkit.comment(line))
        else:
            document.add(name, _section(model, {"title": title, **_TO_FILL_IN}))
    return tomlkit.dumps(document)


def _section(model: type[BaseModel], filled: dict[str, str]) -> TomlTable:
    section = tomlkit.table()
    ranges: list[tuple[str, FieldInfo]] = []
    for name, field in model.model_fields.items():
        if section_model(field) is not None:
            ranges.append((name, field))
            continue
        section.add(tomlkit.comment(field.description or ""))
        section.add(name, filled[name] if field.is_required() else field.default)
    # In TOML a section's own settings come before the sections inside it.
    for name, field in ranges:
        section.add(tomlkit.nl())
        section.add(tomlkit.comment(field.description or ""))
        part = tomlkit.table()
        for key, value in field.default.model_dump().items():
            part.add(key, value)
        section.add(name, part)
    return section


def _first_line(model: type[BaseModel]) -> str:
    return (model.__doc__ or "").strip().splitlines()[0].replace("`", "")


def _commented_section(name: str, model: type[BaseModel]) -> Iterator[str]:
    yield "To use it, take away the # at the start of each line below."
    yield f"[{name}]"
    for key, field in model.model_fields.items():
        yield f"{key} = {_example(field)}  # {field.description}"


def _example(field: FieldInfo) -> str:
    example = field.examples[0] if field.examples else ""
    return tomlkit.item(example).as_string()
