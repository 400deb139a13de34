"""The marking desk's part of the study: rows of pictures, marks and scores as the desk needs them.

An observer sees the own marks of one round only, so that a second round or observer stays
blind to the first.
"""

import hashlib
from collections.abc import Callable, Mapping
from pathlib import Path

from bonewright.study.cells import read_file_path
from bonewright.study.faults import Fault
from bonewright.study.pictures import PictureFacts, picture_facts
from bonewright.study.schemas import LANDMARKS, OUTLINE, SCORES, TABLE_BY_NAME
from bonewright.study.within import stands_within
from bonewright.web.clash import Sheet
from bonewright.web.failures import Refusal
from bonewright.web.picture_messages import (
    DeskMessage,
    MarkMessage,
    MarksMessage,
    MarksRequest,
    NamedPoint,
    PictureMessage,
    ScoreKind,
    ScoresRequest,
)
from bonewright.web.sheets import version_of
from bonewright.web.workroom import Workroom

__all__ = ["desk", "keep_marks", "keep_scores", "marks_of", "picture_path"]

_Row = dict[str, str]


def _rows(sheet: Sheet) -> list[_Row]:
    return [
        {column: cell.strip() for column, cell in zip(sheet.header, row, strict=True)}
        for row in sheet.rows
    ]


def picture_path(room: Workroom, row: Mapping[str, str]) -> Path | None:
    """Return the file of a row of pictures; None if it names none, or none inside files/."""
    name = row.get("pictureFile", "")
    safe = read_file_path(name) if name else None
    if not isinstance(safe, str):
        return None
    files = room.folder / "files"
    path = files / safe
    return path.resolve() if stands_within(path, files) and path.is_file() else None


def desk(room: Workroom) -> DeskMessage:
    """Say which pictures there are, and what can be marked and scored."""
    marked: dict[str, set[str]] = {}
    for row in _rows(room.sheet("landmarks")[1]):
        who = f"{row.get('measurementDeterminedBy', '')}, round {row.get('markingRound', '')}"
        marked.setdefault(row.get("pictureID", ""), set()).add(who)
    return DeskMessage(
        pictures=[
            _picture(room, row, sorted(marked.get(row["pictureID"], ())))
            for row in _rows(room.sheet("pictures")[1])
            if row.get("pictureID")
        ],
        points=[NamedPoint(name=name, where=where) for name, where in LANDMARKS.items()],
        outline=OUTLINE,
        scores=[ScoreKind(kind=kind, points=points) for kind, points in SCORES.items()],
    )


def _picture(room: Workroom, row: _Row, marked: list[str]) -> PictureMessage:
    path = picture_path(room, row)
    facts: PictureFacts | Fault
    if path is None:
        facts = Fault(
            expected="a picture file",
            mend="Put the file into the study's files folder and name it in the pictures table.",
        )
    else:
        facts = picture_facts(path)
    fault = f"Expected {facts.expected}. {facts.mend}" if isinstance(facts, Fault) else ""
    known = facts if isinstance(facts, PictureFacts) else None
    return PictureMessage(
        id=row["pictureID"],
        title=row.get("title", ""),
        width=known.width_px if known else 0,
        height=known.height_px if known else 0,
        checksum=known.checksum if known else "",
        notes=list(known.notes) if known else [],
        fault=fault,
        scale_length=row.get("scaleLength", ""),
        scale_unit=row.get("scaleUnit", ""),
        marked=marked,
    )


def marks_of(room: Workroom, picture: str, *, observer: str, marking_round: int) -> MarksMessage:
    """Return one observer's marks and scores of one picture.

    Raises
    ------
    Refusal
        If a mark's place cannot be read as a number: it is to be mended in the table.
    """
    rows = [
        row
        for row in _rows(room.sheet("landmarks")[1])
        if _is_of(row, picture, observer, marking_round)
    ]
    scores = {
        row["measurementType"]: row["measurementValue"]
        for row in _rows(room.sheet("picture_marks")[1])
        if row.get("pictureID") == picture and row.get("measurementDeterminedBy") == observer
    }
    try:
        points = [
            MarkMessage(
                name=row["landmark"],
                order=int(row["pointOrder"]) if row.get("pointOrder") else None,
                x=float(row["xPixel"]),
                y=float(row["yPixel"]),
            )
            for row in rows
        ]
    except ValueError:
        raise Refusal(
            422,
            "A mark of this picture cannot be read.",
            remedy="Mend the cells of the marks table that are outlined as wrong.",
        ) from None
    return MarksMessage(version=_version(rows), points=points, scores=scores)


def _is_of(row: _Row, picture: str, observer: str, marking_round: int) -> bool:
    return (
        row.get("pictureID") == picture
        and row.get("measurementDeterminedBy") == observer
        and row.get("markingRound") == str(marking_round)
    )


def _version(rows: list[_Row]) -> str:
    """Name exactly these rows."""
    return hashlib.sha256(repr([sorted(row.items()) for row in rows]).encode()).hexdigest()


def keep_marks(room: Workroom, picture: str, request: MarksRequest) -> None:
    """Put marks in place of those of the same observer and round, and set the scale.

    Raises
    ------
    Refusal
        If there is no such picture, its file is another than was marked, a point is unknown,
        or the marks were changed by someone else meanwhile.
    """
    message = next((one for one in desk(room).pictures if one.id == picture), None)
    if message is None or message.fault:
        raise Refusal(
            404,
            f"There is no picture {picture[:80]} that can be marked.",
            remedy=message.fault if message else "Reload the page: the table was changed.",
        )
    if request.checksum != message.checksum:
        raise Refusal(
            409,
            "The picture file was replaced since it was opened here.",
            remedy="Open the picture again; what is marked here stays until you do.",
        )
    unknown = {point.name for point in request.points} - {*LANDMARKS, OUTLINE}
    if unknown:
        raise Refusal(
            422, f"There is no point named {min(unknown)[:80]}.", remedy="Reload the page."
        )
    table, sheet = room.sheet("landmarks")
    rows = _rows(sheet)
    mine = [row for row in rows if _is_of(row, picture, request.observer, request.round)]
    if _version(mine) != request.version:
        raise Refusal(
            409,
            "These marks were changed elsewhere since they were opened here.",
            remedy="Open the picture again in another round, or reload the page.",
        )
    others = [cells for cells, row in zip(sheet.rows, rows, strict=True) if row not in mine]
    name = _free_names("lm-", {row["landmarkID"] for row in rows if row not in mine}, width=4)
    made = [
        {
            "landmarkID": name(),
            "pictureID": picture,
            "landmark": point.name,
            "pointOrder": "" if point.order is None else str(point.order),
            "xPixel": f"{point.x:.1f}",
            "yPixel": f"{point.y:.1f}",
            "measurementDeterminedBy": request.observer,
            "markingRound": str(request.round),
            "pictureChecksum": request.checksum,
        }
        for point in request.points
    ]
    room.save("landmarks", _with_rows(sheet, others, made), version=version_of(table))
    if (request.scale_length, request.scale_unit) != (message.scale_length, message.scale_unit):
        _keep_scale(room, picture, request)


def _keep_scale(room: Workroom, picture: str, request: MarksRequest) -> None:
    table, sheet = room.sheet("pictures")
    cells = {"scaleLength": request.scale_length, "scaleUnit": request.scale_unit}
    key = sheet.header.index(TABLE_BY_NAME["pictures"].key)
    rows = tuple(
        tuple(
            cells.get(column, cell).strip() if row[key].strip() == picture else cell
            for column, cell in zip(sheet.header, row, strict=True)
        )
        for row in sheet.rows
    )
    room.save("pictures", Sheet(header=sheet.header, rows=rows), version=version_of(table))


def keep_scores(room: Workroom, picture: str, request: ScoresRequest) -> None:
    """Put a scorer's scores in place of the scorer's earlier ones of that picture.

    Raises
    ------
    Refusal
        If a kind of score is unknown.
    """
    unknown = set(request.scores) - set(SCORES)
    if unknown:
        raise Refusal(
            422, f"There is no score named {min(unknown)[:80]}.", remedy="Reload the page."
        )
    table, sheet = room.sheet("picture_marks")
    rows = _rows(sheet)
    earlier = [
        row
        for row in rows
        if row.get("pictureID") == picture
        and row.get("measurementDeterminedBy") == request.scorer
        and row.get("measurementType") in request.scores
    ]
    others = [cells for cells, row in zip(sheet.rows, rows, strict=True) if row not in earlier]
    name = _free_names("k-", {row["measurementID"] for row in rows if row not in earlier}, width=3)
    made = [
        {
            "measurementID": name(),
            "pictureID": picture,
            "measurementType": kind,
            "measurementValue": score.strip(),
            "measurementDeterminedBy": request.scorer,
        }
        for kind, score in request.scores.items()
        if score.strip()
    ]
    room.save("picture_marks", _with_rows(sheet, others, made), version=version_of(table))


def _with_rows(sheet: Sheet, kept: list[tuple[str, ...]], made: list[_Row]) -> Sheet:
    added = [tuple(row.get(column, "") for column in sheet.header) for row in made]
    return Sheet(header=sheet.header, rows=(*kept, *added))


def _free_names(prefix: str, taken: set[str], *, width: int) -> Callable[[], str]:
    """Return a function that gives the next name not taken."""
    number = 0

    def following() -> str:
        nonlocal number
        number += 1
        while f"{prefix}{number:0{width}d}" in taken:
            number += 1
        return f"{prefix}{number:0{width}d}"

    return following
