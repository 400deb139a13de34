"""How wide a person made the columns of a table: kept under ``results/``, for it is no data."""

import json
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Depends
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from bonewright.study.atomic import write_atomically
from bonewright.study.schemas import TABLE_BY_NAME
from bonewright.web.failures import Refusal
from bonewright.web.live_routes import workroom_of
from bonewright.web.workroom import Workroom

__all__ = ["WidthsMessage", "router"]

router = APIRouter(prefix="/api/column-widths")

Room = Annotated[Workroom, Depends(workroom_of)]
_NAME = "column-widths.json"

Pixels = Annotated[int, Field(ge=48, le=1200)]
ColumnName = Annotated[str, Field(max_length=200)]


class WidthsMessage(BaseModel):
    """Widths in px by the column's name; a column not named is as wide as what stands in it."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    widths: Annotated[dict[ColumnName, Pixels], Field(max_length=400)] = {}


@router.get("/{table}")
def read_widths(table: str, room: Room) -> WidthsMessage:
    """Give the widths chosen for a table."""
    return _kept(_file(room)).get(_known(table), WidthsMessage())


@router.post("/{table}")
def keep_widths(table: str, request: WidthsMessage, room: Room) -> WidthsMessage:
    """Keep the widths chosen for a table."""
    file = _file(room)
    kept = _kept(file) | {_known(table): request}
    text = json.dumps({name: kept[name].widths for name in sorted(kept)}, indent=1)
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        write_atomically(file, (text + "\n").encode())
    except OSError as error:
        raise Refusal(409, f"The widths were not kept: {error}.", remedy="Go on.") from error
    return request


def _known(table: str) -> str:
    if table not in TABLE_BY_NAME:
        raise Refusal(404, "There is no such table.", remedy="Reload the page.")
    return table


def _file(room: Workroom) -> Path:
    return room.folder / "results" / _NAME


def _kept(file: Path) -> dict[str, WidthsMessage]:
    """Read what was kept; a file that cannot be read is as none."""
    try:
        read = json.loads(file.read_bytes())
        return {
            name: WidthsMessage(widths=widths)
            for name, widths in read.items()
            if name in TABLE_BY_NAME
        }
    except (OSError, ValueError, AttributeError, ValidationError):
        return {}
