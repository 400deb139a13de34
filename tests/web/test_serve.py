"""How the page's socket is set up."""

import asyncio
import socket

from bonewright.web.serve import listener_on


def test_an_answer_in_two_parts_does_not_wait_for_the_browser_to_confirm_the_first() -> None:
    async def delayed() -> int:
        found: asyncio.Future[int] = asyncio.get_running_loop().create_future()

        def connected(_: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
            held: socket.socket = writer.get_extra_info("socket")
            found.set_result(held.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY))
            writer.close()

        with listener_on("127.0.0.1", 0) as listener:
            server = await asyncio.start_server(connected, sock=listener)
            async with server:
                _, writer = await asyncio.open_connection(*listener.getsockname())
                answer = await found
                writer.close()
                await writer.wait_closed()
        return answer

    assert asyncio.run(delayed()) != 0
