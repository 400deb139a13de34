"""Find every problem of a study at once.

Each table is checked by itself (:mod:`bonewright.study.table_cells`), then what rows say
of other rows, of files and of study.toml. Nothing is computed here: a study that passes
is one in which every cell can be read in one way only.
"""

import contextlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from bonewright.errors import Problem, StudyProblems
from bonewright.study.body_rules import (
    density_rules,
    hoop_rules,
    lost_part_rules,
    segment_rules,
    weighing_rules,
)
from bonewright.study.bone_rules import (
    body_rules,
    measurement_rules,
    relative_rules,
    section_rules,
    specimen_rules,
)
from bonewright.study.cells import read_file_path
from bonewright.study.code_rules import (
    code_of_bone_rules,
    code_of_relative_rules,
    code_rules,
    own_code_names,
    own_codes,
)
from bonewright.study.equations import equation_rules
from bonewright.study.faults import Fault
from bonewright.study.model import Surface
from bonewright.study.outlines import Rings, read_outline
from bonewright.study.picture_rules import landmark_rules, look_at_pictures, scale_rules
from bonewright.study.pictures import PictureFacts
from bonewright.study.raw import RawTable, RawTables, empty_table
from bonewright.study.read import LARGEST_FILE_BYTES, unreadable
from bonewright.study.recent import Recent
from bonewright.study.references import reference_problems, row_names
from bonewright.study.schemas import TABLES
from bonewright.study.settings import Settings
from bonewright.study.settings_file import SETTINGS_FILE
from bonewright.study.spelling import listed, nearest, shown
from bonewright.study.surface_files import LARGEST_SCAN_BYTES, read_surface
from bonewright.study.table_cells import TableCells, read_cells
from bonewright.study.testimony_rules import (
    chain_rules,
    claim_rules,
    decision_rules,
    mark_rules,
    mount_rules,
    old_units,
    testimony_date_rules,
    unit_rules,
)
from bonewright.study.trees import StudyTrees, join_names, read_study_trees
from bonewright.study.workshop_rules import stock_rules, tract_rules

__all__ = ["Examined", "check_tables", "examine"]

_SECTION_LIMIT_MM = (0.1, 200.0)
_RECENT: Recent[tuple[Problem, ...]] = Recent()
_FOUND: Recent[bool] = Recent(kept=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Examined:
    """A study's tables as values, with every problem found on the way.

    ``outlines`` maps a section's row index to its rings in the row's unit, ``surfaces`` a
    scan's to its surface in the file's unit, ``pictures`` a picture's to what its file is.
    """

    tables: Mapping[str, TableCells]
    outlines: Mapping[int, Rings]
    surfaces: Mapping[int, Surface]
    pictures: Mapping[int, PictureFacts]
    trees: StudyTrees | None
    problems: tuple[Problem, ...]


def check_tables(
    raw_tables: Mapping[str, RawTable], settings: Settings | None, folder: Path
) -> tuple[Problem, ...]:
    """Return every problem of a study's tables, its files, and settings that name rows.

    Parameters
    ----------
    raw_tables : RawTables, or a mapping from name to RawTable
        Tables as text, perhaps with unsaved edits. A table left out is empty.
    settings : Settings or None
        None if study.toml could not be read; what depends on it is then not checked.
    folder : Path
        The study folder, for files that cells name.
    """
    return examine(raw_tables, settings, folder).problems


def examine(
    raw_tables: Mapping[str, RawTable], settings: Settings | None, folder: Path
) -> Examined:
    """Read and check all tables; see :func:`check_tables`."""
    raw = {table.name: raw_tables.get(table.name) or empty_table(table.name) for table in TABLES}
    decisions = read_cells(raw["decisions"], frozenset())
    overruled = _overruled(decisions)
    codes = read_cells(raw["codes"], frozenset())
    known = {"decisions": decisions, "codes": codes}
    added = {"codes": own_code_names(codes)}
    tables = {
        table.name: known[table.name]
        if table.name in known
        else read_cells(raw[table.name], overruled.get(table.name, frozenset()), added)
        for table in TABLES
    }
    problems = list(raw_tables.problems) if isinstance(raw_tables, RawTables) else []
    for cells in tables.values():
        problems.extend(cells.problems)
    problems.extend(reference_problems(tables))
    problems.extend(_rules(tables, overruled, settings))
    outlines, wrong = _outlines(tables["sections"], overruled.get("sections", frozenset()), folder)
    problems.extend(wrong)
    pictures, wrong = look_at_pictures(tables["pictures"], folder, _find_file)
    problems.extend(wrong)
    picture_rows = row_names(tables["pictures"])
    marked = (tables["landmarks"], tables["pictures"], picture_rows, pictures)
    problems.extend(_recalled(landmark_rules, *marked))
    surfaces, wrong = _surfaces(tables["body_scans"], folder)
    problems.extend(wrong)
    trees, wrong_settings = _settings_rules(settings, tables["relatives"], folder)
    problems.extend(wrong_settings)
    return Examined(
        tables=tables,
        outlines=outlines,
        surfaces=surfaces,
        pictures=pictures,
        trees=trees,
        problems=tuple(problems),
    )


def _overruled(decisions: TableCells) -> dict[str, frozenset[str]]:
    """Collect the rows of each table on whose plausibility the person has decided."""
    rows: dict[str, set[str]] = {}
    for index in decisions.sound_rows():
        table, row_id = decisions.text("tableName", index), decisions.text("rowID", index)
        if table and row_id and decisions.text("decision", index):
            rows.setdefault(table, set()).add(row_id)
    return {table: frozenset(names) for table, names in rows.items()}


def _rules(
    tables: Mapping[str, TableCells],
    overruled: Mapping[str, frozenset[str]],
    settings: Settings | None,
) -> Iterator[Problem]:
    nobody: frozenset[str] = frozenset()
    specimens = tables["specimens"]
    specimen_rows = row_names(specimens)
    yield from specimen_rules(specimens, specimen_rows)
    yield from chain_rules(specimens, "castOf", specimen_rows)
    yield from measurement_rules(tables["measurements"], overruled.get("measurements", nobody))
    yield from code_rules(tables["codes"])
    own = own_codes(tables["codes"])
    yield from code_of_bone_rules(
        tables["measurements"],
        specimens,
        specimen_rows,
        own=own,
        overruled=overruled.get("measurements", nobody),
    )
    yield from code_of_relative_rules(
        tables["relative_measurements"],
        own=own,
        overruled=overruled.get("relative_measurements", nobody),
    )
    yield from _recalled(relative_rules, tables["relative_measurements"])
    yield from equation_rules(tables["equations"], overruled.get("equations", nobody))
    yield from _recalled(section_rules, tables["sections"], specimens, specimen_rows)
    yield from body_rules(tables["bodies"])
    yield from weighing_rules(tables["bodies"])
    yield from segment_rules(tables["body_segments"], tables["body_hoops"])
    yield from hoop_rules(tables["body_hoops"], tables["body_segments"])
    yield from density_rules(tables["tissues"])
    yield from stock_rules(tables["stock"])
    yield from density_rules(tables["build_materials"])
    yield from tract_rules(tables["feather_tracts"], tables["body_segments"])
    yield from lost_part_rules(tables["lost_parts"])
    for name in ("pictures", "accounts"):
        rows = row_names(tables[name])
        yield from chain_rules(tables[name], "copyOf", rows)
        yield from testimony_date_rules(
            tables[name],
            rows,
            overruled=overruled.get(name, nobody),
            witness=settings.witness if settings else None,
        )
    yield from mark_rules(tables["picture_marks"])
    yield from scale_rules(tables["pictures"])
    yield from unit_rules(tables["units"], overruled.get("units", nobody))
    yield from claim_rules(
        tables["claims"], overruled.get("claims", nobody), old_units(tables["units"])
    )
    yield from mount_rules(tables["mount_measurements"])
    yield from decision_rules(
        tables["decisions"],
        {name: row_names(cells) for name, cells in tables.items() if not cells.raw.problems},
    )


def _recalled(rule: Callable[..., Iterable[Problem]], *read: object) -> tuple[Problem, ...]:
    """Apply a rule to tables, unless it was just applied to the same."""
    # Tables that did not change are the very same objects, so that comparing them costs nothing.
    return _RECENT.recall(rule.__name__, read, lambda: tuple(rule(*read)))


def _find_file(
    folder: Path,
    name: str,
    *,
    largest_bytes: int = LARGEST_FILE_BYTES,
    taken: frozenset[str] = frozenset(),
) -> tuple[Path | None, str, str]:
    """Find a file below files/: the path, or what is expected and how to mend it.

    ``taken`` are files that other rows name, which are not meant then.
    """
    files = folder / "files"
    path = files / name
    expected = "a file inside the study's files folder"
    problem = None
    with contextlib.suppress(OSError):
        status = path.stat()
        version = (status.st_mtime_ns, status.st_ctime_ns, status.st_size, status.st_ino)
        question = (path, version, largest_bytes)
        if _FOUND.recall(name, question, lambda: _is_sound(folder, path, name, largest_bytes)):
            return path, "", ""
    if path.exists():
        problem = unreadable(folder, path, f"files/{name}", largest_bytes=largest_bytes)
    if problem is not None:
        return None, expected, f"It is {problem.found}. {problem.mend}"
    if path.is_file():
        return path, "", ""
    present = sorted(
        other.relative_to(files).as_posix() for other in files.rglob("*") if other.is_file()
    )
    guess = nearest(name, [other for other in present if other not in taken])
    mend = f"Did you mean '{guess}'?" if guess else "Copy the file there, or mend its name."
    return None, expected, mend


def _is_sound(folder: Path, path: Path, name: str, largest_bytes: int) -> bool:
    problem = unreadable(folder, path, f"files/{name}", largest_bytes=largest_bytes)
    return problem is None and path.is_file()


def _outlines(
    sections: TableCells, overruled: frozenset[str], folder: Path
) -> tuple[dict[int, Rings], list[Problem]]:
    outlines: dict[int, Rings] = {}
    problems: list[Problem] = []
    named = frozenset(name for name in sections.columns["outlineFile"] if isinstance(name, str))
    for index in sections.sound_rows():
        name = sections.text("outlineFile", index)
        if name is None:
            continue
        path, expected, mend = _find_file(folder, name, taken=named)
        if path is None:
            problems.append(sections.problem(index, "outlineFile", expected=expected, mend=mend))
            continue
        unit_mm = sections.factors["measurementUnit"][index] or 1.0
        rings, wrong = read_outline(path, f"files/{name}", unit_mm=unit_mm)
        whose = f" It is the outline of {sections.key(index)} ({sections.place(index)})."
        problems.extend(replace(problem, mend=problem.mend + whose) for problem in wrong)
        if rings:
            outlines[index] = rings
            if sections.key(index) not in overruled:
                problems.extend(_outline_size(sections, index, rings))
    return outlines, problems


def _outline_size(sections: TableCells, index: int, rings: Rings) -> Iterator[Problem]:
    factor = sections.factors["measurementUnit"][index]
    if factor is None:
        return
    low, high = _SECTION_LIMIT_MM
    length = sections.number("boneLength", index)
    for axis, direction in enumerate(("breadth", "depth")):
        values = [point[axis] for point in rings[0]]
        extent_mm = (max(values) - min(values)) * factor
        if not low <= extent_mm <= high or (length is not None and extent_mm >= length):
            yield sections.problem(
                index,
                "outlineFile",
                expected=f"an outline of plausible {direction}, {low:g} to {high:g} mm and less"
                f" than the bone's length (it is {extent_mm:.4g} mm)",
                mend="Mend the outline or the unit of the row",
                keepable=True,
            )


def _surfaces(scans: TableCells, folder: Path) -> tuple[dict[int, Surface], list[Problem]]:
    surfaces: dict[int, Surface] = {}
    problems: list[Problem] = []
    for index in scans.sound_rows():
        name = scans.text("scanFile", index)
        if name is None:
            continue
        path, expected, mend = _find_file(folder, name, largest_bytes=LARGEST_SCAN_BYTES)
        if path is None:
            problems.append(scans.problem(index, "scanFile", expected=expected, mend=mend))
            continue
        surface, wrong = read_surface(path, f"files/{name}")
        problems.extend(problem for problem in wrong if problem not in problems)
        if surface is not None:
            surfaces[index] = surface
    return surfaces, problems


def _settings_rules(
    settings: Settings | None, relatives: TableCells, folder: Path
) -> tuple[StudyTrees | None, list[Problem]]:
    """Check the settings that name a file or a row, and read the trees."""
    problems: list[Problem] = []

    def tell(column: str, found: str, expected: str, mend: str) -> None:
        problems.append(
            Problem(
                file=SETTINGS_FILE,
                row=None,
                column=column,
                found=shown(found),
                expected=expected,
                mend=mend,
            )
        )

    if settings is None:
        return None, problems
    proof = settings.blind_proof
    names = row_names(relatives)
    if proof is not None and not relatives.raw.problems and proof.species not in names:
        guess = nearest(proof.species, names)
        tell(
            "blind_proof.species",
            proof.species,
            "a species of tables/relatives.csv",
            f"Did you mean '{guess}'?" if guess else "Add the species, or delete [blind_proof].",
        )
    if settings.tree is None:
        return None, problems
    name = read_file_path(settings.tree.file)
    if isinstance(name, Fault):
        tell("tree.file", settings.tree.file, name.expected, name.mend)
        return None, problems
    path, expected, mend = _find_file(folder, name)
    if path is None:
        tell("tree.file", settings.tree.file, expected, mend)
        return None, problems
    trees, wrong = read_study_trees(path, f"files/{name}")
    if wrong:
        return None, [*problems, *wrong]
    try:
        synonyms = dict(settings.tree.synonyms)
        joined = join_names(trees, names, file=f"files/{name}", synonyms=synonyms)
    except StudyProblems as clash:
        return None, [*problems, *clash.problems]
    tips = joined.trees[0].tip_names
    if names and not joined.match.species_of_tip:
        shown_tips = f"{listed(tips[:3], last='and')}" + (" and others" if len(tips) > 3 else "")
        tell(
            "tree.file",
            f"a tree of {shown_tips}",
            "a tree with species of tables/relatives.csv",
            "No name at its tips stands in the table: see whether it is the right tree, and spell"
            " the species alike in both, or give synonyms.",
        )
    for beside in settings.tree.beside:
        if beside not in tips:
            guess = nearest(beside, tips)
            tell(
                "tree.beside",
                beside,
                "species of the tree",
                f"Did you mean '{guess}'?" if guess else "Name species at the tree's tips.",
            )
    return joined, problems
