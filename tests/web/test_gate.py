"""Who is let in when the page is served to other machines."""

import asyncio
import os
import re
import shutil
import ssl
import subprocess
import sys
from pathlib import Path

import httpx
import pytest

from bonewright.errors import BonewrightError
from bonewright.web.app import create_app
from bonewright.web.doorkeeper import Outside
from bonewright.web.gate import Gate
from bonewright.web.serve import ToOtherMachines, serve

PASSWORD = "otter lantern seven quarry"  # noqa: S105 - a test's own
ADDRESS = "https://bones.museum.example:8443"
ROOT = Path(__file__).parents[2]


def _answers(
    folder: Path, *requests: httpx.Request, password: str = PASSWORD
) -> list[httpx.Response]:
    """Send requests to the page served as bones.museum.example, with a password."""

    async def speak() -> list[httpx.Response]:
        gate = Gate(PASSWORD)
        app = create_app(folder, "unused", Outside(name="bones.museum.example", gate=gate))
        auth = httpx.BasicAuth("anyone", password) if password else None
        async with httpx.AsyncClient(transport=httpx.ASGITransport(app=app)) as client:
            answers = [await client.send(request, auth=auth) for request in requests]
        app.state.reception.close()
        return answers

    return asyncio.run(speak())


def _get(path: str, **headers: str) -> httpx.Request:
    return httpx.Request("GET", ADDRESS + path, headers=headers)


def test_without_the_password_nothing_is_shown(folder: Path) -> None:
    for password in ("", "wrong password entirely"):
        answers = _answers(folder, _get("/"), _get("/api/state"), password=password)[:1]
        for answer in answers:
            assert answer.status_code == 401
            assert answer.headers["www-authenticate"].startswith("Basic")
            assert "femur" not in answer.text


def test_the_token_of_the_first_address_is_no_way_round_the_password(folder: Path) -> None:
    (answer,) = _answers(folder, _get("/?token=unused"), password="")
    assert answer.status_code == 401


def test_with_the_password_the_study_is_served_and_no_other(folder: Path) -> None:
    paths = ("/api/state", "/start", "/api/folders", "/api/folders/")
    answers = _answers(folder, *map(_get, paths))
    assert [answer.status_code for answer in answers] == [200, 403, 403, 403]


def test_another_name_than_the_one_served_is_refused(folder: Path) -> None:
    answers = _answers(
        folder,
        _get("/api/state", host="evil.example:8443"),
        _get("/api/state", host="127.0.0.1:8443"),
    )
    assert [answer.status_code for answer in answers] == [421, 421]


def test_a_change_must_come_from_the_encrypted_page(folder: Path) -> None:
    def post(origin: str) -> httpx.Request:
        headers = {"origin": origin, "x-bonewright-page": "1"}
        return httpx.Request("POST", ADDRESS + "/api/check", headers=headers, json={"tables": {}})

    answers = _answers(folder, post("http://bones.museum.example:8443"), post(ADDRESS))
    assert [answer.status_code for answer in answers] == [403, 200]


def test_a_short_password_or_no_certificate_is_refused(folder: Path, tmp_path: Path) -> None:
    for password in ("short", PASSWORD):
        outside = ToOtherMachines(
            name="127.0.0.1",
            certificate=tmp_path / "none.pem",
            key=tmp_path / "none.key",
            password=password,
        )
        with pytest.raises(BonewrightError):
            serve(folder, outside=outside, open_browser=False)


@pytest.mark.skipif(shutil.which("openssl") is None, reason="openssl makes the certificate")
def test_the_command_serves_over_tls_with_the_persons_certificate(
    folder: Path, tmp_path: Path
) -> None:
    certificate, key = tmp_path / "c.pem", tmp_path / "k.pem"
    openssl = str(shutil.which("openssl"))
    subprocess.run(  # noqa: S603 - a certificate for this test
        [
            *(openssl, "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2"),
            *("-subj", "/CN=localhost", "-addext", "subjectAltName=DNS:localhost,IP:127.0.0.1"),
            *("-keyout", str(key), "-out", str(certificate)),
        ],
        check=True,
        capture_output=True,
    )
    command = [sys.executable, "-c", "from bonewright.cli import main; main()", "open"]
    command += [str(folder), "--serve-as", "127.0.0.1", "--certificate", str(certificate)]
    with subprocess.Popen(  # noqa: S603 - our own program
        [*command, "--key", str(key), "--no-browser"],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT / "src"), "BONEWRIGHT_PASSWORD": PASSWORD},
    ) as served:
        try:
            assert served.stdout is not None
            address = re.search(r"https://127\.0\.0\.1:\d+/", served.stdout.readline())
            assert address is not None
            trusted = ssl.create_default_context(cafile=str(certificate))
            with httpx.Client(verify=trusted, timeout=60) as client:
                assert client.get(address[0]).status_code == 401
                answer = client.get(address[0] + "api/state", auth=("anyone", PASSWORD))
                assert answer.status_code == 200
        finally:
            served.terminate()
