"""A small study, served for real on loopback: the tests speak to it over a socket."""

import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx
import pytest
import uvicorn

from bonewright.web.app import create_app

TOKEN = "the-token-of-this-test"  # noqa: S105 - a test's own
SETTINGS = """[study]
title = "A <small> study"
question = "How long was its femur?"
invented = true

[animal]
name = "test rail"
"""
SPECIMENS = """materialEntityID,institutionCode,catalogNumber,element,side,sex,lifeStage,\
preparations,preservation
bone-1,AAA,1,femur,left,unknown,adult,bone,complete
bone-2,AAA,2,femur,left,unknown,adult,bone,complete
bone-3,BBB,3,femur,left,unknown,adult,bone,complete
"""
MEASUREMENTS = """measurementID,materialEntityID,measurementType,measurementValue,measurementUnit
m-1,bone-1,GL,171.2,mm
m-2,bone-2,GL,168.4,mm
m-3,bone-3,GL,17.3,cm
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Served:
    """A served study: where it is, on disk and on the loopback interface."""

    folder: Path
    port: int

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    tables = tmp_path / "study" / "tables"
    tables.mkdir(parents=True)
    (tables.parent / "study.toml").write_text(SETTINGS, encoding="utf-8")
    (tables / "specimens.csv").write_text(SPECIMENS, encoding="utf-8")
    (tables / "measurements.csv").write_text(MEASUREMENTS, encoding="utf-8")
    return tables.parent


@contextmanager
def _listening(folder: Path | None) -> Iterator[int]:
    listener = socket.create_server(("127.0.0.1", 0))
    config = uvicorn.Config(
        create_app(folder, TOKEN), log_level="warning", access_log=False, ws="none"
    )
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]})
    thread.start()
    try:
        yield listener.getsockname()[1]
    finally:
        server.should_exit = True
        thread.join()
        listener.close()


@pytest.fixture
def served(folder: Path) -> Iterator[Served]:
    with _listening(folder) as port:
        yield Served(folder=folder, port=port)


@pytest.fixture
def newcomer() -> Iterator[httpx.Client]:
    """A client of a session in which no study was chosen yet."""
    with (
        _listening(None) as port,
        httpx.Client(
            base_url=f"http://127.0.0.1:{port}", follow_redirects=True, timeout=60
        ) as client,
    ):
        client.get("/", params={"token": TOKEN})
        yield client


@pytest.fixture
def stranger(served: Served) -> Iterator[httpx.Client]:
    """A client that was not handed the token."""
    with httpx.Client(base_url=served.address) as client:
        yield client


@pytest.fixture
def insider(served: Served) -> Iterator[httpx.Client]:
    """A client of this session that writes as the page does."""
    headers = {"x-bonewright-page": "1", "origin": served.address}
    with httpx.Client(base_url=served.address, headers=headers, timeout=60) as client:
        client.get("/", params={"token": TOKEN})
        yield client


@pytest.fixture
def settled(insider: httpx.Client) -> Callable[[], dict[str, Any]]:
    """Wait until nothing is being computed, and return the state."""

    def wait() -> dict[str, Any]:
        for _ in range(600):
            state: dict[str, Any] = insider.get("/api/state").json()
            if not state["computing"]:
                return state
            time.sleep(0.05)
        raise TimeoutError("The study was never computed.")

    return wait
