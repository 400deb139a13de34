"""The grown body as solids, to keep and to open in any viewer of the GLB format."""

from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Depends
from fastapi.responses import Response

from bonewright.web.failures import Refusal
from bonewright.web.live_routes import workroom_of
from bonewright.web.workroom import Workroom

if TYPE_CHECKING:
    from bonewright.body.grown import GrownBody
    from bonewright.pipeline import Run

__all__ = ["router", "run_with_body"]

router = APIRouter()

Room = Annotated[Workroom, Depends(workroom_of)]

_SOLIDS = {"lean": False, "mean": False, "fat": False, "plumage": True}


def run_with_body(room: Workroom) -> "tuple[Run, GrownBody]":
    """Return the last run and its grown body, or refuse."""
    run = room.look().run
    grown = None if run is None or run.body is None else run.body.grown
    if run is None or grown is None:
        raise Refusal(
            404,
            "No body has been grown from the skeleton yet.",
            remedy="See what the step says is missing.",
        )
    return run, grown


@router.get("/solid/body-{name}.glb")
def solid(name: str, room: Room) -> Response:
    """Join the body of one state, or the average one in its plumage, and hand it over."""
    if name not in _SOLIDS:
        raise Refusal(
            404,
            "There is no such solid.",
            remedy=f"Choose one of: {', '.join(_SOLIDS)}.",
        )
    _, grown = run_with_body(room)
    from bonewright.body.silhouettes import state_mesh
    from bonewright.report.body_desk import glb

    plumage = _SOLIDS[name]
    mesh = state_mesh(grown, "mean" if plumage else name, plumage=plumage)
    content = glb(mesh, colour="plumage" if plumage else "flesh")
    return Response(
        content,
        media_type="model/gltf-binary",
        headers={"content-disposition": f'attachment; filename="body-{name}.glb"'},
    )
