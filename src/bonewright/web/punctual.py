"""Hang up on whoever begins a request and does not end its head.

The server waits for the rest of a request without end; a program that opens hundreds of
connections and sends a letter a minute on each would leave none for the page.
"""

import asyncio

from uvicorn.protocols.http.h11_impl import H11Protocol

__all__ = ["PunctualProtocol"]


class PunctualProtocol(H11Protocol):
    """A connection that is closed when the head of a request is not there in time."""

    head_within_s = 20.0
    _late: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Expect the head of a first request."""
        super().connection_made(transport)
        self._expect()

    def data_received(self, data: bytes) -> None:
        """Take what comes; expect the rest of a head that it begins."""
        before = self.cycle
        super().data_received(data)
        if self.cycle is not before:
            self._forget()
        elif self._late is None and (before is None or before.response_complete):
            self._expect()

    def connection_lost(self, exc: Exception | None) -> None:
        """Expect nothing more."""
        self._forget()
        super().connection_lost(exc)

    def _expect(self) -> None:
        self._late = self.loop.call_later(self.head_within_s, self._hang_up)

    def _forget(self) -> None:
        if self._late is not None:
            self._late.cancel()
            self._late = None

    def _hang_up(self) -> None:
        self._late = None
        self.transport.close()
