"""The page's server, assembled."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

from fastapi import FastAPI
from starlette.staticfiles import StaticFiles

from bonewright.web import (
    body_routes,
    column_width_routes,
    contour_routes,
    errand_routes,
    figure_routes,
    history_routes,
    intake_routes,
    live_routes,
    page_routes,
    picture_routes,
    round_routes,
    settings_routes,
    start_routes,
    table_routes,
    what_if_routes,
)
from bonewright.web.doorkeeper import Doorkeeper, Outside
from bonewright.web.failures import handle_failures
from bonewright.web.reception import Reception
from bonewright.web.workroom import Clash

__all__ = ["create_app"]


def create_app(
    folder: Path | None,
    token: str,
    outside: Outside | None = None,
    *,
    page_comes: bool = False,
) -> FastAPI:
    """Return the page of the study in ``folder``, open to the bearer of ``token``.

    ``outside`` says how it is served to other machines, if it is; ``page_comes`` that a browser
    is about to open it, for which computing waits a moment. Without a folder it begins
    at the start page, where a study is chosen. The documentation
    pages of the framework are off: they load from elsewhere.
    """
    reception = Reception(folder, page_comes=page_comes)

    @asynccontextmanager
    async def lifespan(_: FastAPI) -> AsyncIterator[None]:
        yield
        reception.close()

    app = FastAPI(
        title="Bonewright", docs_url=None, redoc_url=None, openapi_url=None, lifespan=lifespan
    )
    app.state.reception = reception
    app.state.shared = outside is not None
    handle_failures(app)
    app.add_exception_handler(Clash, table_routes.clash_response)
    app.include_router(live_routes.router)
    app.include_router(start_routes.router)
    app.include_router(settings_routes.router)
    app.include_router(what_if_routes.router)
    app.include_router(table_routes.router)
    app.include_router(column_width_routes.router)
    app.include_router(errand_routes.router)
    app.include_router(picture_routes.router)
    app.include_router(contour_routes.router)
    app.include_router(figure_routes.router)
    app.include_router(body_routes.router)
    app.include_router(round_routes.router)
    app.include_router(history_routes.router)
    app.include_router(intake_routes.router)
    app.mount("/static", StaticFiles(directory=Path(__file__).parent / "static"))
    app.include_router(page_routes.router)
    app.add_middleware(Doorkeeper, token=token, outside=outside)
    return app
