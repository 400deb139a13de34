"""Who is let in when the page is served to other machines."""

import asyncio
import base64
import os
import re
import shutil
import ssl
import subprocess
import sys
from pathlib import Path

import httpx
import pytest
from starlette.datastructures import Headers

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


def _headers(password: str) -> Headers:
    packed = base64.b64encode(f"anyone:{password}".encode()).decode()
    return Headers({"authorization": f"Basic {packed}"})


def test_passwords_sent_at_once_from_one_place_are_looked_at_in_turn_and_keep_nobody_else_out() -> (
    None
):
    answered: list[str] = []

    async def send(gate: Gate, name: str, password: str, caller: str) -> bool:
        let_in = await gate.lets_in(_headers(password), caller=caller)
        answered.append(name)
        return let_in

    async def attack() -> list[bool]:
        gate = Gate(PASSWORD)
        guesses = [
            send(gate, "first guess", "wrong password one", "192.0.2.7"),
            send(gate, "second guess", "wrong password two", "192.0.2.7"),
            # Sent beside the wrong ones, the right one is not told from them by coming sooner.
            send(gate, "third guess", PASSWORD, "192.0.2.7"),
        ]
        return await asyncio.gather(*guesses, send(gate, "colleague", PASSWORD, "192.0.2.8"))

    assert asyncio.run(attack()) == [False, False, True, True]
    assert answered == ["first guess", "colleague", "second guess", "third guess"]


def test_a_crowd_of_passwords_from_one_place_is_not_heard_even_if_one_is_right() -> None:
    async def crowd() -> list[bool]:
        gate = Gate(PASSWORD)
        sent = [asyncio.create_task(gate.lets_in(_headers(PASSWORD), caller="192.0.2.7"))]
        sent += [
            asyncio.create_task(gate.lets_in(_headers(f"wrong password {n}"), caller="192.0.2.7"))
            for n in range(40)
        ]
        late = asyncio.create_task(gate.lets_in(_headers(PASSWORD), caller="192.0.2.7"))
        answer = await late
        for task in sent:
            task.cancel()
        await asyncio.gather(*sent, return_exceptions=True)
        return [answer]

    assert asyncio.run(crowd()) == [False]


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("2001:db8::1", "2001:db8::ffff:2"),
        ("192.0.2.7", "::ffff:192.0.2.7"),
        ("fe80::1%eth0", "fe80::2"),
    ],
)
def test_addresses_that_one_machine_may_take_at_will_are_one_place(one: str, other: str) -> None:
    async def wrong_then_wrong() -> list[str]:
        gate, answered = Gate(PASSWORD), []

        async def send(name: str, caller: str) -> None:
            await gate.lets_in(_headers("wrong password here"), caller=caller)
            answered.append(name)

        await send("one", one)
        await asyncio.gather(send("other", other), send("elsewhere", "198.51.100.1"))
        return answered

    assert asyncio.run(wrong_then_wrong()) == ["one", "elsewhere", "other"]


def test_who_was_let_in_is_known_by_a_cookie_that_only_this_page_gets(folder: Path) -> None:
    (first,) = _answers(folder, _get("/api/state"))
    cookie = first.headers["set-cookie"]
    assert cookie.startswith("__Host-bonewright=")
    for word in ("Secure", "HttpOnly", "SameSite=Strict", "Path=/"):
        assert word in cookie
    (refused,) = _answers(folder, _get("/api/state"), password="")
    assert "set-cookie" not in refused.headers
    shown = _get("/api/state", cookie=cookie.partition(";")[0])
    # Of another session of the program, it is no cookie of this one.
    assert _answers(folder, shown, password="")[0].status_code == 401


def test_with_the_cookie_no_password_is_asked_for() -> None:
    gate = Gate(PASSWORD)
    assert gate.knows(Headers({"cookie": gate.set_cookie.partition(";")[0]}))
    for cookie in ("", "__Host-bonewright=", "__Host-bonewright=\u00fc", "=;;=", "x" * 9000):
        assert not gate.knows(Headers({"cookie": cookie}))


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
