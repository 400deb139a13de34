"""Serve the page on this machine."""

import secrets
import socket
import ssl
import sys
import webbrowser
from dataclasses import dataclass
from pathlib import Path

import uvicorn
from fastapi import FastAPI

from bonewright.errors import BonewrightError
from bonewright.web.app import create_app
from bonewright.web.doorkeeper import Outside
from bonewright.web.gate import SHORTEST_PASSWORD, Gate
from bonewright.web.punctual import PunctualProtocol

__all__ = ["ToOtherMachines", "listener_on", "serve"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ToOtherMachines:
    """What serving to other machines takes: the name they reach this one by, TLS, a password."""

    name: str
    certificate: Path
    key: Path
    password: str


def serve(
    folder: Path | None,
    *,
    port: int = 0,
    open_browser: bool = True,
    outside: ToOtherMachines | None = None,
) -> None:
    """Serve the study's page until interrupted: on loopback, unless ``outside`` is given.

    Parameters
    ----------
    folder : Path or None
        The study folder; None begins at the start page.
    port : int
        0 picks a free one.
    open_browser : bool
        Whether to open the person's browser at the page.
    outside : ToOtherMachines, optional
        Serve to other machines, encrypted and behind a password.

    Raises
    ------
    BonewrightError
        If the folder is no study folder, the port is taken, or the certificate, its key or the
        password is not fit to serve with.
    """
    if folder is not None and not folder.is_dir():
        raise BonewrightError(
            f"There is no folder {folder}.", remedy="Give the folder that holds study.toml."
        )
    behind = None if outside is None else _gate(folder, outside)
    listener = listener_on("127.0.0.1" if outside is None else outside.name, port)
    token = secrets.token_urlsafe(32)
    port = listener.getsockname()[1]
    address = f"http://127.0.0.1:{port}/?token={token}"
    if outside is not None:
        address = f"https://{outside.name}:{port}/ (any user name, and the password)"
        open_browser = False
    app = create_app(folder, token, behind, page_comes=outside is None)
    # Listening already: a browser that comes before the server is up waits.
    listener.listen()
    sys.stdout.write(f"The page is at {address}\nPress Ctrl+C here to end it.\n")
    sys.stdout.flush()
    if open_browser:
        webbrowser.open(address)
    # The access log would print the token.
    # A save must not queue behind the computing: it gets its turn within a millisecond.
    sys.setswitchinterval(0.001)
    config = uvicorn.Config(
        app,
        log_level="warning",
        access_log=False,
        server_header=False,
        ws="none",
        http=PunctualProtocol,
        proxy_headers=False,
        ssl_certfile=None if outside is None else outside.certificate,
        ssl_keyfile=None if outside is None else outside.key,
    )
    try:
        _Server(config, app).run(sockets=[listener])
    finally:
        listener.close()


def listener_on(name: str, port: int) -> socket.socket:
    """Listen on one address only, never on all of a machine's."""
    try:
        family, _, _, _, place = socket.getaddrinfo(name, port, type=socket.SOCK_STREAM)[0]
        # The loop sends small answers at once only through a socket that says it is TCP: left
        # out, the second half of each waits 40 ms for the browser's word that it has the first.
        listener = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        try:
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            listener.bind(place)
        except BaseException:
            listener.close()
            raise
    except (OSError, UnicodeError) as error:
        raise BonewrightError(
            f"Port {port} of {name} cannot be used: {error}.",
            remedy="Leave the port out, and a free one is picked; to serve to other machines, give"
            " a name or an address of this machine.",
        ) from error
    return listener


def _gate(folder: Path | None, outside: ToOtherMachines) -> Outside:
    if folder is None:
        raise BonewrightError(
            "Only one study is served to other machines.", remedy="Give its folder."
        )
    if len(outside.password) < SHORTEST_PASSWORD:
        raise BonewrightError(
            f"The password is shorter than {SHORTEST_PASSWORD} letters.",
            remedy="Take several words that do not belong together.",
        )
    try:
        ssl.create_default_context(ssl.Purpose.CLIENT_AUTH).load_cert_chain(
            outside.certificate, outside.key, password=lambda: ""
        )
    except (OSError, ssl.SSLError) as error:
        raise BonewrightError(
            f"The certificate {outside.certificate} with the key {outside.key} cannot be used:"
            f" {error}.",
            remedy="Ask whoever looks after the network for both as PEM files, the key without a"
            " passphrase.",
        ) from error
    return Outside(name=outside.name, gate=Gate(outside.password))


class _Server(uvicorn.Server):
    """Ends the streams of open pages first: they would never end by themselves."""

    def __init__(self, config: uvicorn.Config, app: FastAPI) -> None:
        super().__init__(config)
        self._app = app

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Close what is open, then the server."""
        self._app.state.reception.close()
        await super().shutdown(sockets)
