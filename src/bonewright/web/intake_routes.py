"""Files over HTTP: received by drop, looked at, taken into files/; spreadsheets imported."""

from collections.abc import Mapping
from typing import Annotated, Literal
from urllib.parse import unquote

from fastapi import APIRouter, Depends, Request
from pydantic import BaseModel, ConfigDict, Field

from bonewright.errors import BonewrightError
from bonewright.study.bone_codes import ELEMENTS, MEASUREMENT_CODES
from bonewright.study.cells import read_file_path
from bonewright.study.faults import Fault
from bonewright.study.file_intake import PLACE_OF_KIND, FileKind, place_file
from bonewright.study.importing import (
    ImportPlan,
    ImportPreview,
    import_plan,
    import_preview,
    import_rows,
)
from bonewright.study.merging import Merged
from bonewright.study.schemas import MEASUREMENTS, SPECIMENS, TABLE_BY_NAME
from bonewright.study.units import EVERYDAY_UNITS
from bonewright.study.wide_rows import Gathered
from bonewright.study.within import stands_within
from bonewright.web.failures import Refusal
from bonewright.web.incoming import Arrival
from bonewright.web.live_routes import workroom_of
from bonewright.web.messages import ProblemMessage
from bonewright.web.rows_begun import note_on, row_begun
from bonewright.web.showing import STEP_OF_TABLE, table_of_problem
from bonewright.web.workroom import Workroom

__all__ = ["router"]

router = APIRouter(prefix="/api")

Room = Annotated[Workroom, Depends(workroom_of)]
Words = Annotated[str, Field(max_length=2000)]
Key = Annotated[str, Field(min_length=1, max_length=64)]

_SAMPLES = 3
_MOST_LISTED = 200


class _Message(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class ArrivalMessage(_Message):
    """A file that was received: what it is, and the checksum (SHA-256) of its content."""

    key: str
    name: str
    size_bytes: int
    checksum: str
    kind: FileKind


class TakeRequest(_Message):
    """Take a file into files/. ``use`` says what a picture is of."""

    key: Key
    use: Literal["", "section"] = ""


class TakenMessage(_Message):
    """Where a file is now, and the row that may begin with it."""

    file: str
    is_new: bool
    table: str
    table_title: str
    step: str
    cells: dict[str, str]
    note: str


class TreeRequest(_Message):
    """Take a file of files/ as the tree of relatives."""

    file: Annotated[str, Field(min_length=1, max_length=500)]


class ImportRequest(_Message):
    """How a spreadsheet is to be read; ``told`` maps headers to meanings."""

    key: Key
    told: dict[Words, Words] = {}
    element: Words = ""
    unit: Words = ""
    institution: Words = ""


class SheetColumnMessage(_Message):
    """A column of a spreadsheet and what it is taken for."""

    header: str
    samples: list[str]
    column: str
    code: str
    element: str
    unit: str
    understood: bool
    told: bool


class WideSheetMessage(_Message):
    """A sheet of a spreadsheet."""

    name: str
    rows: int
    element: str
    columns: list[SheetColumnMessage]


class NamedMessage(_Message):
    """Something to choose, by name and in words."""

    name: str
    title: str


class PreviewMessage(_Message):
    """What an import would bring, or has brought."""

    added: dict[str, int]
    known: dict[str, int]
    recognised: list[str]
    """Bones that stand in the study under another name."""
    differing: list[str]
    assumed: list[str]
    kept_as_remarks: list[str]
    without_bone: list[str]
    problems: list[ProblemMessage]
    more: int
    """How many further lines the lists above leave out."""


class PlanMessage(_Message):
    """How a spreadsheet would be read, and what to choose from.

    ``waits_for`` says what must be told before anything can be imported.
    """

    name: str
    sheets: list[WideSheetMessage]
    element: str
    unit: str
    institution: str
    waits_for: str
    preview: PreviewMessage | None
    columns: list[NamedMessage]
    codes: list[NamedMessage]
    elements: list[str]
    units: list[str]


@router.post("/incoming")
async def receive(request: Request, room: Room) -> ArrivalMessage:
    """Receive one file as the body of the request, its name in a header."""
    announced = request.headers.get("content-length", "")
    arrival = await room.incoming.receive(
        unquote(request.headers.get("x-file-name", ""))[:2000],
        request.stream(),
        announced_bytes=int(announced) if announced.isdecimal() else None,
        stack=unquote(request.headers.get("x-file-stack", ""))[:2000],
    )
    return ArrivalMessage(
        key=arrival.key,
        name=arrival.name,
        size_bytes=arrival.size_bytes,
        checksum=arrival.checksum,
        kind=arrival.kind,
    )


@router.post("/incoming/forget")
def forget(request: TakeRequest, room: Room) -> dict[str, str]:
    """Throw a received file away."""
    room.incoming.forget(request.key)
    return {}


@router.post("/files")
def take(request: TakeRequest, room: Room) -> TakenMessage:
    """Take a received file into files/."""
    arrival = room.incoming.waiting(request.key)
    place = PLACE_OF_KIND.get(arrival.kind)
    if place is None:
        raise Refusal(
            422, f"{arrival.name} is a spreadsheet.", remedy="Import its rows into the tables."
        )
    if request.use == "section":
        place = "sections"
    if arrival.stack:
        place = f"{place}/{arrival.stack}"
    file, is_new = place_file(
        arrival.path, room.folder, place=place, name=arrival.name, checksum=arrival.checksum
    )
    room.incoming.forget(request.key)
    table, cells = row_begun(arrival, file, use=request.use)
    return TakenMessage(
        file=file,
        is_new=is_new,
        table=table,
        table_title=TABLE_BY_NAME[table].title if table else "",
        step=STEP_OF_TABLE[table] if table else "",
        cells=cells,
        note=note_on(arrival, file, use=request.use),
    )


@router.post("/tree")
def use_tree(request: TreeRequest, room: Room) -> dict[str, str]:
    """Name a file of files/ in study.toml as the tree of relatives."""
    name = read_file_path(request.file)
    path = room.folder / "files" / ("" if isinstance(name, Fault) else name)
    if isinstance(name, Fault) or not stands_within(path, room.folder) or not path.is_file():
        raise Refusal(
            404, "There is no such file in the study.", remedy="Drop the tree's file in first."
        )
    room.change_settings(
        {"tree.file": request.file}, what=f"study.toml: {request.file} is the tree of relatives"
    )
    return {}


@router.post("/import/plan")
def plan(request: ImportRequest, room: Room) -> PlanMessage:
    """Say how a received spreadsheet would be read and what it would bring."""
    arrival = room.incoming.waiting(request.key)
    if arrival.kind == "archive":
        from bonewright.study.darwin_core import archive_preview

        return _plan_message(arrival, None, archive_preview(room.folder, arrival.path), room)
    planned = _planned(request, arrival, room)
    preview = None if planned.needs_element() else import_preview(room.folder, planned)
    return _plan_message(arrival, planned, preview, room)


@router.post("/import/rows")
def take_rows(request: ImportRequest, room: Room) -> PreviewMessage:
    """Import a received spreadsheet."""
    arrival = room.incoming.waiting(request.key)
    if arrival.kind == "archive":
        from bonewright.study.darwin_core import import_archive

        merged = import_archive(room.folder, arrival.path)
        gathered = Gathered()
    else:
        merged, gathered = import_rows(room.folder, _planned(request, arrival, room))
    room.incoming.forget(request.key)
    return _preview_message(merged, gathered, problems=[])


def _planned(request: ImportRequest, arrival: Arrival, room: Workroom) -> ImportPlan:
    if arrival.kind != "spreadsheet":
        raise BonewrightError(
            f"{arrival.name} is no spreadsheet.", remedy="Choose CSV, xlsx, ods or a zip."
        )
    return import_plan(
        room.folder,
        arrival.path,
        told=request.told,
        element=request.element or None,
        unit=request.unit or None,
        institution=request.institution or None,
    )


def _plan_message(
    arrival: Arrival, planned: ImportPlan | None, preview: ImportPreview | None, room: Workroom
) -> PlanMessage:
    raw = room.look().raw
    standing = {problem.sentence() for problem in room.look().problems}
    return PlanMessage(
        name=arrival.name,
        sheets=[] if planned is None else _sheets(planned),
        element="" if planned is None else planned.element or "",
        unit="mm" if planned is None else planned.unit,
        institution="" if planned is None else planned.institution,
        waits_for=""
        if preview is not None
        else "Say which bone the rows are of, or which column holds it.",
        preview=None
        if preview is None
        else _preview_message(
            preview.merged,
            preview.gathered,
            problems=[
                ProblemMessage.of(problem, table=table_of_problem(problem, raw))
                for problem in preview.problems
                if problem.sentence() not in standing
            ],
        ),
        columns=_columns(),
        codes=_codes(room),
        elements=list(ELEMENTS),
        units=list(EVERYDAY_UNITS["length"]),
    )


def _sheets(planned: ImportPlan) -> list[WideSheetMessage]:
    return [
        WideSheetMessage(
            name=one.sheet.name,
            rows=len(one.sheet.rows),
            element=one.element or "",
            columns=[
                SheetColumnMessage(
                    header=meaning.header,
                    samples=_samples(tuple(row[place] for row in one.sheet.rows)),
                    column=meaning.column or "",
                    code=meaning.code or "",
                    element=meaning.element or "",
                    unit=meaning.unit or "",
                    understood=meaning.understood,
                    told=meaning.header in planned.told,
                )
                for place, meaning in enumerate(one.meanings)
            ],
        )
        for one in planned.sheets
    ]


def _samples(cells: tuple[str, ...]) -> list[str]:
    return list(dict.fromkeys(cell.strip()[:80] for cell in cells if cell.strip()))[:_SAMPLES]


def _columns() -> list[NamedMessage]:
    """Return what a column may hold besides measurements, each once."""
    titles = {
        column.name: column.title
        for table in (SPECIMENS, MEASUREMENTS)
        for column in table.columns
        if column.name not in ("measurementID", "measurementType", "measurementValue", "sourceID")
    }
    return [NamedMessage(name=name, title=title) for name, title in titles.items()]


def _codes(room: Workroom) -> list[NamedMessage]:
    meanings = dict(MEASUREMENT_CODES)
    table = room.look().raw["codes"]
    places = {name: place for place, name in enumerate(table.header)}
    code, meaning = places.get("measurementType"), places.get("measurementMeaning")
    for row in table.rows:
        if code is not None and len(row) > code and row[code].strip():
            words = row[meaning].strip() if meaning is not None and len(row) > meaning else ""
            meanings.setdefault(row[code].strip(), words or "a code of this study")
    return [NamedMessage(name=name, title=words) for name, words in meanings.items()]


def _by_title(counts: Mapping[str, int]) -> dict[str, int]:
    return {TABLE_BY_NAME[name].title: count for name, count in counts.items()}


def _preview_message(
    merged: Merged, gathered: Gathered, *, problems: list[ProblemMessage]
) -> PreviewMessage:
    differing, kept = merged.differing, gathered.kept_as_remarks
    without = gathered.without_bone
    same = merged.recognised
    lengths = [len(same), len(differing), len(kept), len(without), len(problems)]
    return PreviewMessage(
        added=_by_title(merged.added),
        known=_by_title(merged.known),
        assumed=sorted(gathered.assumed),
        recognised=list(same[:_MOST_LISTED]),
        differing=differing[:_MOST_LISTED],
        kept_as_remarks=kept[:_MOST_LISTED],
        without_bone=without[:_MOST_LISTED],
        problems=problems[:_MOST_LISTED],
        more=sum(max(0, length - _MOST_LISTED) for length in lengths),
    )
