"""Files taken into a study: named safely, known by what they hold, never over another.

What a file is, is read from the file by the same readers that will read it later; its name
only says which of them to ask. A file that none of them can read is not taken.
"""

import os
import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from bonewright.errors import BonewrightError, Problem, StudyProblems
from bonewright.study.faults import Fault
from bonewright.study.outlines import read_outline
from bonewright.study.pictures import MOST_BYTES as LARGEST_PICTURE_BYTES
from bonewright.study.pictures import picture_facts
from bonewright.study.read import LARGEST_FILE_BYTES
from bonewright.study.sheet_files import LARGEST_BYTES as LARGEST_SHEET_BYTES
from bonewright.study.surface_files import LARGEST_SCAN_BYTES, read_surface
from bonewright.study.trees import read_study_trees
from bonewright.study.within import stands_within

__all__ = [
    "LARGEST_INTAKE_BYTES",
    "PLACE_OF_KIND",
    "FileKind",
    "kind_of",
    "place_file",
    "safe_name",
]

FileKind = Literal["spreadsheet", "archive", "picture", "scan", "outline", "tree", "slices"]

PLACE_OF_KIND: dict[FileKind, str] = {
    "picture": "pictures",
    "scan": "scans",
    "outline": "outlines",
    "tree": "trees",
    "slices": "stacks",
}
"""The folder below files/ in which files of a kind are put."""

_ENDINGS: dict[str, tuple[FileKind, ...]] = {
    **dict.fromkeys((".csv", ".tsv", ".txt"), ("outline", "tree", "spreadsheet")),
    **dict.fromkeys((".xlsx", ".xlsm", ".xls", ".ods"), ("spreadsheet",)),
    ".zip": ("archive",),
    **dict.fromkeys((".png", ".jpg", ".jpeg", ".gif", ".bmp", ".webp"), ("picture",)),
    **dict.fromkeys((".tif", ".tiff"), ("picture",)),
    ".dcm": ("slices",),
    **dict.fromkeys((".stl", ".ply", ".obj", ".glb"), ("scan",)),
    **dict.fromkeys((".svg", ".dxf"), ("outline",)),
    **dict.fromkeys((".nwk", ".newick", ".tre", ".tree", ".nex", ".nexus", ".trees"), ("tree",)),
}
_LARGEST: dict[FileKind, int] = {
    "spreadsheet": LARGEST_SHEET_BYTES,
    "archive": LARGEST_SHEET_BYTES,
    "picture": LARGEST_PICTURE_BYTES,
    "scan": LARGEST_SCAN_BYTES,
    "outline": LARGEST_FILE_BYTES,
    "tree": LARGEST_FILE_BYTES,
    "slices": LARGEST_SCAN_BYTES,
}
LARGEST_INTAKE_BYTES = max(_LARGEST.values())

_LONGEST_NAME_BYTES = 120
_UNSAFE = re.compile(r"[<>:\"/\\|?*\x00-\x1f\x7f]+")
# Names that one of the common systems keeps for itself.
_RESERVED = re.compile(r"(?:con|prn|aux|nul|com[0-9]|lpt[0-9])(?:\..*)?", re.IGNORECASE)


def safe_name(name: str) -> str:
    r"""Return a file's name as every common system can hold it; the ending stays.

    Examples
    --------
    >>> safe_name("..\\plates\\Tafel 3?.JPG")
    'Tafel 3_.JPG'
    >>> safe_name("con.txt")
    '_con.txt'
    """
    last = unicodedata.normalize("NFC", name).replace("\\", "/").rpartition("/")[2]
    plain = "".join(sign for sign in last if unicodedata.category(sign)[0] != "C" or sign == " ")
    clean = _UNSAFE.sub("_", plain).strip(" .") or "file"
    if _RESERVED.fullmatch(clean):
        clean = f"_{clean}"
    stem, dot, ending = clean.rpartition(".")
    if not dot:
        stem, ending = clean, ""
    while len(f"{stem}{dot}{ending}".encode()) > _LONGEST_NAME_BYTES and stem:
        stem = stem[:-1]
    # Cut in the middle, a name may end in a space.
    return f"{stem.rstrip(' .') or 'file'}{dot}{ending}"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Looked:
    """What one reader says of a file: nothing wrong, or what is, and how to mend it."""

    wrong: str = ""
    mend: str = ""


def kind_of(path: Path, name: str, *, of_stack: bool = False) -> FileKind:
    """Say what a file is, after looking into it.

    Parameters
    ----------
    path : Path
        The file, under whatever name it lies there now; its ending is that of ``name``.
    name : str
        Its own name.
    of_stack : bool
        Whether it came in a folder, as the slices of a stack do.

    Raises
    ------
    BonewrightError
        If it is nothing a study takes, too large, or damaged.
    """
    ending = Path(name).suffix.casefold()
    kinds = _ENDINGS.get(ending, ())
    if of_stack and (ending == ".dcm" or kinds == ("picture",)):
        kinds = ("slices",)
    if not kinds:
        raise BonewrightError(
            f"{name}: a study takes no files that end in '{ending}'.",
            remedy="It takes pictures (PNG, JPEG, TIFF, GIF, BMP, WebP), scans (STL, PLY, OBJ,"
            " GLB), outlines (CSV, SVG, DXF), trees (Newick, NEXUS), slices (TIFF, DICOM) and"
            " spreadsheets (CSV, xlsx, ods, Darwin Core zip).",
        )
    size = path.stat().st_size
    if size == 0:
        raise BonewrightError(f"{name} is empty.", remedy="Copy it again from where it came from.")
    fitting = [kind for kind in kinds if size <= _LARGEST[kind]]
    if not fitting:
        most = max(_LARGEST[kind] for kind in kinds)
        raise BonewrightError(
            f"{name} is {size / 2**20:.0f} MB; the limit is {most >> 20} MB.",
            remedy="Save a smaller version of it.",
        )
    looked = [(kind, _LOOKS[kind](path, name)) for kind in fitting]
    for kind, found in looked:
        if not found.wrong:
            return kind
    _, last = looked[-1]
    raise BonewrightError(f"{name}: {last.wrong}", remedy=last.mend)


def _as_picture(path: Path, _: str) -> _Looked:
    facts = picture_facts(path)
    if isinstance(facts, Fault):
        return _Looked(wrong=f"expected {facts.expected}.", mend=facts.mend)
    return _Looked()


def _as_scan(path: Path, name: str) -> _Looked:
    return _first_of(read_surface(path, name)[1])


def _as_outline(path: Path, name: str) -> _Looked:
    return _first_of(read_outline(path, name)[1])


def _as_tree(path: Path, name: str) -> _Looked:
    try:
        return _first_of(read_study_trees(path, name)[1])
    except StudyProblems as wrong:
        return _first_of(wrong.problems)


def _as_sheet(path: Path, name: str) -> _Looked:
    from bonewright.study.sheet_files import read_sheets

    try:
        read_sheets(path)
    except BonewrightError as wrong:
        return _Looked(wrong=wrong.message.replace(path.name, name), mend=wrong.remedy)
    return _Looked()


def _as_archive(path: Path, _: str) -> _Looked:
    with path.open("rb") as file:
        if file.read(4) == b"PK\x03\x04":
            return _Looked()
    return _Looked(
        wrong="it is no zip file.", mend="Choose a zip that holds meta.xml and the files it names."
    )


def _as_slice(path: Path, name: str) -> _Looked:
    if Path(name).suffix.casefold() != ".dcm":
        return _as_picture(path, name)
    with path.open("rb") as file:
        if file.read(132)[128:] == b"DICM":
            return _Looked()
    return _Looked(wrong="it is no DICOM file.", mend="Export the series again.")


def _first_of(problems: tuple[Problem, ...]) -> _Looked:
    if not problems:
        return _Looked()
    found = problems[0]
    return _Looked(wrong=f"found {found.found}; expected {found.expected}.", mend=found.mend)


_LOOKS: dict[FileKind, Callable[[Path, str], _Looked]] = {
    "picture": _as_picture,
    "scan": _as_scan,
    "outline": _as_outline,
    "tree": _as_tree,
    "spreadsheet": _as_sheet,
    "archive": _as_archive,
    "slices": _as_slice,
}


def place_file(
    path: Path, folder: Path, *, place: str, name: str, checksum: str
) -> tuple[str, bool]:
    """Move a file below files/ under a name that is free, or find that it is there already.

    Parameters
    ----------
    path : Path
        The file, on the disk of the study.
    folder : Path
        The study folder.
    place : str
        Where below files/, such as 'pictures' or 'stacks/leg'.
    name : str
        The file's own name.
    checksum : str
        SHA-256 of its content, hexadecimal.

    Returns
    -------
    file : str
        Its name below files/, as a table writes it.
    is_new : bool
        False if the same content stood there already under a name alike.
    """
    from bonewright.study.raw import content_hash

    parts = [safe_name(part) for part in place.split("/")]
    target_folder = (folder / "files").joinpath(*parts)
    if not all(stands_within(target_folder, place) for place in (folder, folder / "files")):
        raise BonewrightError(
            f"files/{'/'.join(parts)} leads out of the study.", remedy="Take away the link there."
        )
    target_folder.mkdir(parents=True, exist_ok=True)
    wanted = Path(safe_name(name))
    number = 1
    while True:
        free = wanted if number == 1 else Path(f"{wanted.stem}-{number}{wanted.suffix}")
        target = target_folder / free
        shown = "/".join([*parts, free.name])
        try:
            # Linking, unlike renaming, refuses to take the place of a file that is there.
            os.link(path, target)
        except FileExistsError:
            same_size = target.is_file() and target.stat().st_size == path.stat().st_size
            if same_size and content_hash(target.read_bytes()) == checksum:
                path.unlink()
                return shown, False
            number += 1
        except OSError:
            # No links on this disk: the name was free a moment ago.
            if target.exists():
                number += 1
                continue
            path.replace(target)
            return shown, True
        else:
            path.unlink()
            return shown, True
