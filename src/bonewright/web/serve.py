"""Serve the page on this machine."""

import secrets
import socket
import sys
import webbrowser
from pathlib import Path

import uvicorn
from fastapi import FastAPI

from bonewright.errors import BonewrightError
from bonewright.web.app import create_app

__all__ = ["serve"]


def serve(folder: Path | None, *, port: int = 0, open_browser: bool = True) -> None:
    """Serve the study's page on loopback until interrupted.

    Parameters
    ----------
    folder : Path or None
        The study folder; None begins at the start page.
    port : int
        0 picks a free one.
    open_browser : bool
        Whether to open the person's browser at the page.

    Raises
    ------
    BonewrightError
        If the folder is no study folder or the port is taken.
    """
    if folder is not None and not folder.is_dir():
        raise BonewrightError(
            f"There is no folder {folder}.", remedy="Give the folder that holds study.toml."
        )
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind(("127.0.0.1", port))
    except OSError as error:
        listener.close()
        raise BonewrightError(
            f"Port {port} of this machine cannot be used: {error.strerror}.",
            remedy="Leave the port out, and a free one is picked.",
        ) from error
    token = secrets.token_urlsafe(32)
    address = f"http://127.0.0.1:{listener.getsockname()[1]}/?token={token}"
    app = create_app(folder, token)
    # Listening already: a browser that comes before the server is up waits.
    listener.listen()
    sys.stdout.write(f"The page is at {address}\nPress Ctrl+C here to end it.\n")
    sys.stdout.flush()
    if open_browser:
        webbrowser.open(address)
    # The access log would print the token.
    # A save must not queue behind the computing: it gets its turn within a millisecond.
    sys.setswitchinterval(0.001)
    config = uvicorn.Config(app, log_level="warning", access_log=False, server_header=False)
    try:
        _Server(config, app).run(sockets=[listener])
    finally:
        listener.close()


class _Server(uvicorn.Server):
    """Ends the streams of open pages first: they would never end by themselves."""

    def __init__(self, config: uvicorn.Config, app: FastAPI) -> None:
        super().__init__(config)
        self._app = app

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Close what is open, then the server."""
        self._app.state.reception.close()
        await super().shutdown(sockets)
