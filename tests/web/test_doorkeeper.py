"""Who may speak to the page."""

import json
import re
from http.client import HTTPConnection

import httpx
import pytest

from bonewright.web.doorkeeper import BODY_LIMIT_BYTES, CONTENT_POLICY

TOKEN = "the-token-of-this-test"  # noqa: S105 - a test's own
ERROR_SHAPE = {"error", "remedy", "problems"}


def _save(client: httpx.Client, **headers: str) -> httpx.Response:
    table = client.get("/api/tables/measurements").json()
    body = {"version": table["version"], "header": table["header"], "rows": table["rows"]}
    return client.post("/api/tables/measurements", json=body, headers=headers)


def test_without_the_token_nothing_is_shown(stranger: httpx.Client) -> None:
    for address in ("/", "/skeleton", "/api/state", "/static/page.js", "/api/tables/specimens"):
        answer = stranger.get(address)
        assert answer.status_code == 403
        assert "femur" not in answer.text
        assert set(answer.json()) == ERROR_SHAPE


def test_a_wrong_token_is_refused(stranger: httpx.Client) -> None:
    assert stranger.get("/", params={"token": TOKEN + "x"}).status_code == 403
    assert stranger.get("/", params={"token": ""}).status_code == 403


def test_the_token_is_exchanged_for_a_strict_cookie_and_leaves_the_address(
    stranger: httpx.Client,
) -> None:
    answer = stranger.get("/", params={"token": TOKEN})
    assert answer.status_code == 303
    assert answer.headers["location"] == "/"
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert TOKEN not in answer.headers["set-cookie"]
    assert stranger.get("/").status_code == 200


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1", "127.0.0.1:1", "localhost.evil:80"])
def test_a_foreign_host_name_is_refused(insider: httpx.Client, host: str) -> None:
    assert insider.get("/", headers={"host": host}).status_code == 421


def test_every_loopback_name_of_this_port_is_let_in(insider: httpx.Client) -> None:
    port = insider.base_url.port
    for name in ("127.0.0.1", "localhost", "[::1]", "LOCALHOST"):
        answer = insider.get("/api/state", headers={"host": f"{name}:{port}"})
        assert answer.status_code == 200


def test_a_change_from_another_origin_is_refused(insider: httpx.Client) -> None:
    assert _save(insider).status_code == 200
    assert _save(insider, origin="https://evil.example").status_code == 403
    assert _save(insider, origin="null").status_code == 403
    assert _save(insider, **{"sec-fetch-site": "cross-site"}).status_code == 403
    assert _save(insider, **{"sec-fetch-site": "same-origin"}).status_code == 200


def test_a_change_without_the_pages_own_header_is_refused(insider: httpx.Client) -> None:
    del insider.headers["x-bonewright-page"]
    assert _save(insider).status_code == 403


def test_a_form_of_another_page_cannot_write(insider: httpx.Client) -> None:
    answer = insider.post("/api/check", content="{}", headers={"content-type": "text/plain"})
    assert answer.status_code == 415


def test_every_answer_lets_nothing_load_from_elsewhere(insider: httpx.Client) -> None:
    answers = [
        insider.get(address)
        for address in ("/", "/skeleton", "/api/state", "/static/page.js", "/nowhere")
    ]
    answers.append(httpx.get(str(insider.base_url)))
    for answer in answers:
        assert answer.headers["content-security-policy"] == CONTENT_POLICY
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["referrer-policy"] == "no-referrer"
    assert "unsafe" not in CONTENT_POLICY


def test_a_page_holds_no_inline_script_or_style(insider: httpx.Client) -> None:
    for address in ("/", "/skeleton", "/sections", "/testimony"):
        text = insider.get(address).text
        assert "style=" not in text
        assert "<style" not in text
        assert 'src="/static/page.js"' in text
        scripts = re.findall(r"<script\b([^>]*)>(.*?)</script>", text, flags=re.DOTALL)
        assert len(scripts) == text.count("<script") >= 1
        for attributes, body in scripts:
            assert re.search(r'src="/static/[a-z0-9_./-]+\.js"', attributes)
            assert body == ""


def test_too_large_a_body_is_refused_before_it_is_read(insider: httpx.Client) -> None:
    connection = HTTPConnection("127.0.0.1", insider.base_url.port, timeout=20)
    connection.putrequest("POST", "/api/check")
    for name, value in (
        ("cookie", "; ".join(f"{name}={value}" for name, value in insider.cookies.items())),
        ("x-bonewright-page", "1"),
        ("content-type", "application/json"),
        ("content-length", str(BODY_LIMIT_BYTES + 1)),
    ):
        connection.putheader(name, value)
    connection.endheaders()
    answer = connection.getresponse()
    assert answer.status == 413
    assert set(json.loads(answer.read())) == ERROR_SHAPE
    connection.close()


def test_the_framework_offers_no_documentation_pages(insider: httpx.Client) -> None:
    for address in ("/docs", "/redoc", "/openapi.json"):
        assert insider.get(address).status_code == 404
