"""Connections that begin a request and do not end its head."""

import asyncio
import contextlib

import pytest
import uvicorn
from uvicorn.server import ServerState

from bonewright.web.punctual import PunctualProtocol


class Impatient(PunctualProtocol):
    head_within_s = 0.3


async def _late_answer(_scope, _receive, send) -> None:
    await asyncio.sleep(3 * Impatient.head_within_s)
    await send(
        {"type": "http.response.start", "status": 200, "headers": [(b"content-length", b"2")]}
    )
    await send({"type": "http.response.body", "body": b"ok"})


def _sent(*pieces: bytes, pause_s: float = 0.0) -> bytes:
    """Send pieces to a server, and return what comes until it hangs up."""

    async def speak() -> bytes:
        config = uvicorn.Config(
            _late_answer, access_log=False, log_level="critical", lifespan="off"
        )
        config.load()
        state = ServerState()
        server = await asyncio.get_running_loop().create_server(
            lambda: Impatient(config=config, server_state=state, app_state={}), "127.0.0.1", 0
        )
        try:
            reader, writer = await asyncio.open_connection(*server.sockets[0].getsockname())
            try:
                for piece in pieces:
                    writer.write(piece)
                    await asyncio.sleep(pause_s)
                return await reader.read()
            except ConnectionError:
                return b""
            finally:
                writer.close()
                with contextlib.suppress(ConnectionError):
                    await writer.wait_closed()
        finally:
            server.close()

    return asyncio.run(speak())


@pytest.mark.parametrize("pieces", [(), (b"GET",), (b"GET / HTTP/1.1\r\n", b"Host: a\r\n", b"A: ")])
def test_whoever_does_not_end_the_head_of_a_request_is_hung_up_on(
    pieces: tuple[bytes, ...],
) -> None:
    assert _sent(*pieces, pause_s=0.05) == b""


def test_who_sends_a_letter_now_and_then_gets_no_more_time() -> None:
    letters = [bytes([letter]) for letter in b"GET / HTTP/1.1"]
    assert _sent(*letters, pause_s=0.1) == b""


def test_an_answer_that_takes_long_is_waited_for_and_the_next_request_is_heard() -> None:
    request = b"GET / HTTP/1.1\r\nHost: a\r\n"
    answer = _sent(
        request + b"\r\n", request[:9], request[9:] + b"Connection: close\r\n\r\n", pause_s=0.1
    )
    assert answer.count(b"200 OK") == 2
