"""Who may speak to the page: this machine, this browser, this session.

Tables are written from here, so a page on the open web must not be able to reach them
through the person's browser. Every request is held to the loopback host it was meant for
(which defeats name rebinding) and to the session cookie; every writing request also to its
origin and to a header no foreign page can set. Every answer carries a content policy that
lets nothing load from elsewhere.

Served to other machines, the page stands behind a :class:`~bonewright.web.gate.Gate`: the
password takes the place of token and cookie, the one name it is served under that of the
loopback names, and the start page is shut, so that nobody elsewhere sees this machine's folders.
"""

import hashlib
import secrets
from dataclasses import dataclass
from urllib.parse import parse_qs

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from bonewright.web.failures import Refusal, failure_response
from bonewright.web.gate import Gate, cookie_value

__all__ = [
    "BODY_LIMIT_BYTES",
    "CONTENT_POLICY",
    "FILES_ADDRESS",
    "WRITE_HEADER",
    "Doorkeeper",
    "Outside",
]

CONTENT_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; font-src 'self'; base-uri 'none'; form-action 'self'; "
    "frame-ancestors 'none'"
)
BODY_LIMIT_BYTES = 64 * 1024 * 1024
WRITE_HEADER = "x-bonewright-page"
FILES_ADDRESS = "/api/incoming"
_JSON, _FILE = "application/json", "application/octet-stream"

_ANSWER_HEADERS = {
    "content-security-policy": CONTENT_POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cache-control": "no-store",
}
_LOOPBACK_NAMES = ("127.0.0.1", "localhost", "[::1]")
_READING = frozenset({"GET", "HEAD"})
_START_ADDRESSES = frozenset({"/start", "/api/start", "/api/folders"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Outside:
    """How the page is served to other machines: the one name it answers to, and its gate."""

    name: str
    gate: Gate


class Doorkeeper:
    """Let in only requests of this session, and send every answer out under the policy.

    Parameters
    ----------
    app : ASGIApp
        What stands behind the door.
    token : str
        The session token handed to the person in the first address.
    outside : Outside, optional
        How the page is served to other machines, if it is.
    """

    def __init__(self, app: ASGIApp, token: str, outside: "Outside | None" = None) -> None:
        self.app = app
        self._outside = outside
        self._token = token
        # The cookie holds another secret than the address, and its name tells sessions
        # apart: cookies are shared by all ports of a host.
        self._pass = secrets.token_urlsafe(32)
        self._cookie = "bonewright-" + hashlib.sha256(token.encode()).hexdigest()[:12]

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Check one request and pass it on."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            # No websocket is offered.
            await send({"type": "websocket.close", "code": 1008})
            return

        newcomer = False

        async def send_under_policy(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _ANSWER_HEADERS.items():
                    headers.setdefault(name, value)
                if newcomer and self._outside is not None:
                    headers.append("set-cookie", self._outside.gate.set_cookie)
            await send(message)

        request = Request(scope, receive)
        try:
            self._check_host(scope, request.headers)
            if self._outside is not None:
                gate = self._outside.gate
                if not gate.knows(request.headers):
                    caller = request.client.host if request.client else ""
                    newcomer = await gate.lets_in(request.headers, caller=caller)
                    if not newcomer:
                        await _asking_for_password(request)(scope, receive, send_under_policy)
                        return
                _refuse_start(request)
            else:
                entry = self._entry(request)
                if entry is not None:
                    await entry(scope, receive, send_under_policy)
                    return
                self._check_pass(request.headers)
            if request.method not in _READING:
                is_file = request.url.path == FILES_ADDRESS
                own = f"{'https' if self._outside else 'http'}://{request.headers['host']}"
                _check_origin(request.headers, own=own, kind=_FILE if is_file else _JSON)
                # A file is limited, and written to the disk, while it comes in.
                receive = receive if is_file else await _limited_body(request)
        except Refusal as refusal:
            await failure_response(request, refusal)(scope, receive, send_under_policy)
            return
        await self.app(scope, receive, send_under_policy)

    def _check_host(self, scope: Scope, headers: Headers) -> None:
        server = scope.get("server")
        port = server[1] if server else None
        names = _LOOPBACK_NAMES if self._outside is None else (self._outside.name.lower(),)
        hosts = {f"{name}:{port}" for name in names}
        if port == (80 if self._outside is None else 443):
            hosts |= set(names)
        if headers.getlist("host") == [] or any(
            host.lower() not in hosts for host in headers.getlist("host")
        ):
            raise Refusal(
                421,
                "This address is not the one the page is served under.",
                remedy="Open the address that was printed when the page was started.",
            )

    def _entry(self, request: Request) -> RedirectResponse | None:
        """Exchange the token in the first address for the session cookie."""
        query = parse_qs(request.url.query)
        if request.method != "GET" or request.url.path != "/" or "token" not in query:
            return None
        if not secrets.compare_digest(query["token"][0].encode(), self._token.encode()):
            raise Refusal(
                403,
                "The token in the address belongs to another session.",
                remedy="Open the address that was printed when the page was last started.",
            )
        response = RedirectResponse("/", status_code=303)
        response.set_cookie(self._cookie, self._pass, httponly=True, samesite="strict", path="/")
        return response

    def _check_pass(self, headers: Headers) -> None:
        shown = cookie_value(headers, self._cookie)
        if not secrets.compare_digest(shown.encode(), self._pass.encode()):
            raise Refusal(
                403,
                "This browser has not been let in to this session.",
                remedy="Open the whole address, token included, that was printed when the page "
                "was started.",
            )


def _asking_for_password(request: Request) -> Response:
    refusal = Refusal(
        401,
        "This study is served with a password.",
        remedy="Reload the page and enter the password you were given; any user name will do.",
    )
    answer = failure_response(request, refusal)
    answer.headers["www-authenticate"] = 'Basic realm="Bonewright", charset="UTF-8"'
    return answer


def _refuse_start(request: Request) -> None:
    if request.url.path.rstrip("/") in _START_ADDRESSES:
        raise Refusal(
            403,
            "Other studies are not opened from another machine.",
            remedy="Open them on the machine they stand on.",
        )


def _check_origin(headers: Headers, *, own: str, kind: str) -> None:
    origin = headers.get("origin")
    site = headers.get("sec-fetch-site")
    if (
        (origin is not None and origin.lower() != own.lower())
        or (site is not None and site != "same-origin")
        or headers.get(WRITE_HEADER) != "1"
    ):
        raise Refusal(
            403,
            "A change was asked for from outside this page.",
            remedy="Make the change in the page itself.",
        )
    if not headers.get("content-type", "").startswith(kind):
        raise Refusal(
            415,
            f"The change was not sent as {kind}.",
            remedy="Make the change in the page itself.",
        )


async def _limited_body(request: Request) -> Receive:
    """Read the body up to the limit and give it back as a channel of its own."""
    too_large = Refusal(
        413,
        "What was sent is larger than the page accepts (64 MB).",
        remedy="Split the table, or edit the file in a spreadsheet and reload the page.",
    )
    announced = request.headers.get("content-length", "0")
    if not announced.isdecimal() or int(announced) > BODY_LIMIT_BYTES:
        raise too_large
    body = bytearray()
    async for chunk in request.stream():
        body += chunk
        if len(body) > BODY_LIMIT_BYTES:
            raise too_large
    parts: list[Message] = [
        {"type": "http.request", "body": bytes(body), "more_body": False},
    ]

    async def receive() -> Message:
        return parts.pop() if parts else {"type": "http.disconnect"}

    return receive
