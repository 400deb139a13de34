"""The gate of a page served to other machines: a password before anything else.

On this machine the token in the first address is enough, for nobody else can read it. To
other machines the page goes only encrypted (TLS, by the certificate the person gives) and
only after a password. The password is kept as its scrypt hash in memory and nowhere else;
wrong ones are slowed down, all of them together, so that guessing from many machines is no
quicker than from one.
"""

import asyncio
import base64
import binascii
import hashlib
import secrets

from starlette.datastructures import Headers

__all__ = ["SHORTEST_PASSWORD", "Gate"]

SHORTEST_PASSWORD = 12
_COST, _BLOCK, _LANES = 2**14, 8, 1
_MEMORY_BYTES = 64 * 1024 * 1024
_FIRST_WAIT_S, _LONGEST_WAIT_S = 0.5, 30.0


class Gate:
    """Let in whoever sends the password by the standard's own dialogue (RFC 7617).

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
        self._salt = secrets.token_bytes(16)
        self._hash = self._hashed(password.encode())
        self._known: bytes | None = None
        self._wrong_in_a_row = 0
        self._one_at_a_time = asyncio.Lock()

    async def lets_in(self, headers: Headers) -> bool:
        """Say whether a request carries the password; a wrong one waits for its answer."""
        sent = _password_of(headers.get("authorization", ""))
        if sent is None:
            return False
        quick = hashlib.blake2b(sent, key=self._salt).digest()
        # Hashed slowly once; who was let in is known again without the wait.
        if self._known is not None and secrets.compare_digest(quick, self._known):
            return True
        async with self._one_at_a_time:
            right = secrets.compare_digest(await asyncio.to_thread(self._hashed, sent), self._hash)
            if right:
                self._known, self._wrong_in_a_row = quick, 0
                return True
            self._wrong_in_a_row += 1
            wait_s = min(_FIRST_WAIT_S * 2 ** (self._wrong_in_a_row - 1), _LONGEST_WAIT_S)
            await asyncio.sleep(wait_s)
        return False

    def _hashed(self, password: bytes) -> bytes:
        return hashlib.scrypt(
            password, salt=self._salt, n=_COST, r=_BLOCK, p=_LANES, maxmem=_MEMORY_BYTES
        )


def _password_of(authorization: str) -> bytes | None:
    scheme, _, packed = authorization.partition(" ")
    if scheme.lower() != "basic" or len(packed) > 2000:
        return None
    try:
        _, colon, password = base64.b64decode(packed, validate=True).partition(b":")
    except (binascii.Error, ValueError):
        return None
    return password if colon else None
