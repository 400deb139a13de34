"""The gate of a page served to other machines: a password before anything else.

On this machine the token in the first address is enough, for nobody else can read it. To
other machines the page goes only encrypted (TLS, by the certificate the person gives) and
only after a password. Whoever was let in is known again by a cookie and never waits. Passwords
are looked at one after the other: those that come from one place each later than the one
before while they are wrong, right ones too, so that sending many at once is no quicker than
one by one; and all together at most twenty a second.
"""

import asyncio
import base64
import binascii
import hashlib
import ipaddress
import secrets
import time
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie

from starlette.datastructures import Headers

__all__ = ["SHORTEST_PASSWORD", "Gate", "cookie_value"]

SHORTEST_PASSWORD = 12
_FIRST_WAIT_S, _LONGEST_WAIT_S = 0.5, 30.0
_FORGIVEN_AFTER_S = 600.0
_PACE_S = 0.05
_MOST_IN_ONE_QUEUE = 8
_MOST_PLACES = 10_000
_COOKIE = "__Host-bonewright"


@dataclass(slots=True)
class _Place:
    """Where passwords come from, and how it fared."""

    turn: asyncio.Lock = field(default_factory=asyncio.Lock)
    queue: int = 0
    wrong: int = 0
    last_s: float = 0.0


class Gate:
    """Let in whoever sends the password by the standard's own dialogue (RFC 7617).

    It keeps a digest under a key of its own, so that texts of any length are compared in the
    same time. That is no store of passwords: nothing is written, and the password itself is in
    the memory of the same process.

    Parameters
    ----------
    password : str
        At least :data:`SHORTEST_PASSWORD` letters.

    Raises
    ------
    ValueError
        If it is shorter.
    """

    def __init__(self, password: str) -> None:
        if len(password) < SHORTEST_PASSWORD:
            raise ValueError(f"a password of fewer than {SHORTEST_PASSWORD} letters")
        self._key = secrets.token_bytes(32)
        self._digest = self._digest_of(password.encode())
        self._pass = secrets.token_urlsafe(32)
        self._places: dict[str, _Place] = {}
        self._pace = asyncio.Lock()

    @property
    def set_cookie(self) -> str:
        """The header by which a browser that was let in is known again."""
        return f"{_COOKIE}={self._pass}; Path=/; Secure; HttpOnly; SameSite=Strict"

    def knows(self, headers: Headers) -> bool:
        """Say whether a request shows the cookie of somebody who was let in."""
        shown = cookie_value(headers, _COOKIE)
        return secrets.compare_digest(shown.encode(), self._pass.encode())

    async def lets_in(self, headers: Headers, *, caller: str) -> bool:
        """Say whether a request carries the password, when its turn has come.

        Parameters
        ----------
        headers : Headers
        caller : str
            The address it comes from.
        """
        sent = _password_of(headers.get("authorization", ""))
        if sent is None:
            return False
        place = self._place_of(caller)
        # Unheard, so that nothing is learnt of the password.
        if place.queue >= _MOST_IN_ONE_QUEUE:
            return False
        place.queue += 1
        try:
            async with place.turn:
                await asyncio.sleep(_wait_s(place))
                async with self._pace:
                    await asyncio.sleep(_PACE_S)
                right = secrets.compare_digest(self._digest_of(sent), self._digest)
                place.wrong = 0 if right else place.wrong + 1
                place.last_s = time.monotonic()
                return right
        finally:
            place.queue -= 1

    def _place_of(self, caller: str) -> _Place:
        name = _network_of(caller)
        if name not in self._places and len(self._places) >= _MOST_PLACES:
            # Full of places that guess: one of them is forgotten for each that comes.
            idle = next((key for key, place in self._places.items() if not place.queue), None)
            self._places.pop(idle or next(iter(self._places)))
        return self._places.setdefault(name, _Place())

    def _digest_of(self, password: bytes) -> bytes:
        return hashlib.blake2b(password, key=self._key).digest()


def _wait_s(place: _Place) -> float:
    """Return how long the next password of a place waits."""
    if time.monotonic() - place.last_s > _FORGIVEN_AFTER_S:
        place.wrong = 0
    if not place.wrong:
        return 0.0
    return min(_FIRST_WAIT_S * 2.0 ** min(place.wrong - 1, 16), _LONGEST_WAIT_S)


def _network_of(caller: str) -> str:
    """Return the part of an address that one machine cannot change at will."""
    try:
        address = ipaddress.ip_address(caller.partition("%")[0])
    except ValueError:
        return caller
    if isinstance(address, ipaddress.IPv4Address):
        return str(address)
    mapped = address.ipv4_mapped
    return str(mapped or ipaddress.ip_network((int(address), 64), strict=False))


def cookie_value(headers: Headers, name: str) -> str:
    """Return a cookie that a request shows, empty if it shows none of that name."""
    try:
        cookies = SimpleCookie(headers.get("cookie", ""))
    except CookieError:
        return ""
    return cookies[name].value if name in cookies else ""


def _password_of(authorization: str) -> bytes | None:
    scheme, _, packed = authorization.partition(" ")
    if scheme.lower() != "basic" or len(packed) > 2000:
        return None
    try:
        _, colon, password = base64.b64decode(packed, validate=True).partition(b":")
    except (binascii.Error, ValueError):
        return None
    return password if colon else None
