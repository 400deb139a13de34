"""Read study.toml, and say what is wrong with it where it stands."""

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import get_args

from pydantic import BaseModel, ValidationError

from bonewright.errors import Problem
from bonewright.study.raw import closed_to_reading, whole_file
from bonewright.study.settings import Choices, RangeChoice, Settings
from bonewright.study.settings_wording import toml_fault, value_fault
from bonewright.study.spelling import listed, nearest, shown
from bonewright.study.toml_text import OverTheTop, parsed_toml
from bonewright.study.within import stands_within

__all__ = ["SETTINGS_FILE", "parse_settings", "read_settings"]

SETTINGS_FILE = "study.toml"
_AT_LINE = re.compile(r"\(at line (\d+), column \d+\)|\(at end of document\)")
_LARGEST_SETTINGS_BYTES = 1024 * 1024


def read_settings(folder: Path) -> tuple[Settings | None, tuple[Problem, ...]]:
    """Read a study's settings.

    Returns
    -------
    settings : Settings or None
        None if anything is wrong.
    problems : tuple of Problem
    """
    path = folder / SETTINGS_FILE
    if not folder.is_dir():
        return None, (_no_folder(folder),)
    if not path.is_file():
        return None, (
            whole_file(
                SETTINGS_FILE,
                found="no such file",
                expected=f"a file {SETTINGS_FILE} in the study folder",
                mend="Choose the folder that holds study.toml, or make a new study.",
            ),
        )
    if not stands_within(path, folder):
        return None, (
            whole_file(
                SETTINGS_FILE,
                found="a link to a place outside the study folder",
                expected="a file of the study",
                mend="Copy the file itself into the study folder.",
            ),
        )
    try:
        with path.open("rb") as file:
            content = file.read(_LARGEST_SETTINGS_BYTES + 1)
    except OSError as error:
        return None, (closed_to_reading(SETTINGS_FILE, error),)
    if len(content) > _LARGEST_SETTINGS_BYTES:
        return None, (_no_settings(f"more than {_LARGEST_SETTINGS_BYTES / 2**20:.0f} MB"),)
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        return None, (
            Problem(
                file=SETTINGS_FILE,
                row=line,
                column=None,
                found="a letter in another encoding",
                expected="a text file in UTF-8",
                mend="Save it as UTF-8 from the text editor.",
            ),
        )
    return parse_settings(text)


def _no_folder(folder: Path) -> Problem:
    if folder.is_file():
        return whole_file(
            str(folder),
            found="a file",
            expected="the folder of a study",
            mend=f"Give the folder that holds it: {folder.parent}",
        )
    return whole_file(
        str(folder),
        found="no such folder",
        expected="the folder of a study",
        mend="See whether its name is typed right, or make a new study there.",
    )


def parse_settings(text: str) -> tuple[Settings | None, tuple[Problem, ...]]:
    """Read the text of study.toml; problems name its lines."""
    try:
        content = parsed_toml(text)
    except tomllib.TOMLDecodeError as error:
        return None, (_not_toml(text, error),)
    except OverTheTop as error:
        return None, (_no_settings(str(error)),)
    try:
        settings = Settings.model_validate(content)
    except ValidationError as error:
        return None, tuple(_setting_problem(text, detail) for detail in error.errors())
    problems = tuple(_choice_problems(text, settings.choices))
    return (None if problems else settings), problems


def _no_settings(found: str) -> Problem:
    return whole_file(
        SETTINGS_FILE,
        found=found,
        expected="settings under their sections",
        mend="See whether this is the right file.",
    )


def _not_toml(text: str, error: tomllib.TOMLDecodeError) -> Problem:
    message = str(error)
    match = _AT_LINE.search(message)
    line = int(match[1]) if match and match[1] else text.count("\n") + 1
    lines = text.splitlines()
    # An error at the very end belongs to the last line on which anything stands.
    while line > 1 and not (line <= len(lines) and lines[line - 1].strip()):
        line -= 1
    written = lines[line - 1] if line <= len(lines) else ""
    fault = toml_fault(written, _AT_LINE.sub("", message).strip())
    return Problem(
        file=SETTINGS_FILE,
        row=line,
        column=None,
        found=shown(written),
        expected=fault.expected,
        mend=fault.mend,
    )


def _setting_problem(text: str, detail: object) -> Problem:
    if not isinstance(detail, dict):
        raise TypeError("a validation error is a mapping")
    path = tuple(str(part) for part in detail["loc"])
    kind = str(detail["type"])
    name = ".".join(path)
    found, message = value_fault(detail)
    mend = f"Change {name} in study.toml."
    if kind == "missing":
        found, message, mend = "no such setting", f"a setting {name}", f"Add {name} to study.toml."
    elif kind == "extra_forbidden":
        known = _names_beside(path)
        guess = nearest(path[-1], known)
        found, message = f"a setting {name}", f"one of: {', '.join(known)}"
        mend = f"Did you mean {guess}?" if guess else "Delete it, or move it to the remarks."
    return Problem(
        file=SETTINGS_FILE,
        row=_line_of(text, path),
        column=name,
        found=found,
        expected=message,
        mend=mend,
    )


def _names_beside(path: tuple[str, ...]) -> list[str]:
    model: type[BaseModel] = Settings
    for part in path[:-1]:
        annotation = model.model_fields[part].annotation
        options = (annotation, *get_args(annotation))
        model = next(o for o in options if isinstance(o, type) and issubclass(o, BaseModel))
    return list(model.model_fields)


def _line_of(text: str, path: tuple[str, ...]) -> int | None:
    """Find the line a setting stands on, or that of its section."""
    section: tuple[str, ...] = ()
    best: tuple[int, int] | None = None
    for number, line in enumerate(text.splitlines(), start=1):
        stripped = line.strip()
        if header := re.match(r"\[+\s*([^\]]+?)\s*\]", stripped):
            section = tuple(part.strip(" \"'") for part in header[1].split("."))
            here = section
        elif setting := re.match(r"([A-Za-z0-9_.\"' -]+?)\s*=", stripped):
            here = section + tuple(part.strip(" \"'") for part in setting[1].split("."))
        else:
            continue
        depth = len(here)
        if here == path[:depth] and (best is None or depth > best[0]):
            best = (depth, number)
    return best[1] if best else None


# Units a choice may be in, each with its factor to the first; and sound bounds in the first.
_SOUND_CHOICES: dict[str, tuple[dict[str, float], float, float]] = {
    "body_density": ({"kg/L": 1.0, "g/mL": 1.0, "g/cm3": 1.0, "kg/m3": 0.001}, 0.3, 1.5),
    "maquette_shape_percent": ({"%": 1.0}, -90.0, 400.0),
    "weight_on_legs": ({"1": 1.0}, 0.05, 1.0),
    "weathered_section_percent": ({"%": 1.0}, 0.0, 60.0),
    "average_fat_percent": ({"%": 1.0}, 0.0, 60.0),
    "femur_angle": ({"deg": 1.0}, 0.0, 85.0),
    "tibiotarsus_angle": ({"deg": 1.0}, 0.0, 85.0),
    "tarsometatarsus_angle": ({"deg": 1.0}, 0.0, 85.0),
    "walking_duty_factor": ({"1": 1.0}, 0.3, 0.95),
    "running_duty_factor": ({"1": 1.0}, 0.1, 0.9),
    "twist_arm_percent": ({"%": 1.0}, 0.0, 50.0),
    "shaft_bow_percent": ({"%": 1.0}, 0.0, 20.0),
    "bone_strength": ({"MPa": 1.0}, 20.0, 500.0),
    "grown_shape_percent": ({"%": 1.0}, -80.0, 300.0),
    "fat_lean_percent": ({"%": 1.0}, 0.0, 60.0),
    "fat_mean_percent": ({"%": 1.0}, 0.0, 60.0),
    "fat_fat_percent": ({"%": 1.0}, 0.0, 60.0),
    "fat_in_belly_percent": ({"%": 1.0}, 0.0, 100.0),
    "skin_thickness": ({"mm": 1.0, "cm": 10.0}, 0.0, 30.0),
    "plumage_depth_percent": ({"%": 1.0}, 0.0, 500.0),
    "fasting_rate": ({"1": 1.0}, 0.3, 10.0),
}


def _choice_problems(text: str, choices: Choices) -> Iterator[Problem]:
    """Check what a type cannot: the unit each choice is read in, and sound bounds."""
    for name, (units, low, high) in _SOUND_CHOICES.items():
        choice: RangeChoice = getattr(choices, name)
        path = ("choices", name)
        factor = units.get(choice.unit)
        if factor is None:
            yield Problem(
                file=SETTINGS_FILE,
                row=_line_of(text, (*path, "unit")),
                column=f"choices.{name}.unit",
                found=shown(choice.unit),
                expected=listed(f"'{unit}'" for unit in units),
                mend="Convert value, low and high to that unit.",
            )
            continue
        for end, value in (("low", choice.low), ("high", choice.high)):
            if not low <= value * factor <= high:
                yield Problem(
                    file=SETTINGS_FILE,
                    row=_line_of(text, (*path, end)),
                    column=f"choices.{name}.{end}",
                    found=f"{value:g} {choice.unit}",
                    expected=f"{low / factor:g} to {high / factor:g} {choice.unit}",
                    mend="Look the number and its unit up again.",
                )
