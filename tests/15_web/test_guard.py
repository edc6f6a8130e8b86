"""Who is let in, and what may be asked of the pages."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from futtock.web.app import make_app

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    app = make_app(tmp_path, largest_body=50_000)
    with TestClient(app, base_url="http://127.0.0.1:8035", follow_redirects=False) as client:
        yield client


def _token(client: TestClient) -> str:
    found = re.search(r'"X-Futtock-Token": "([0-9a-f]{64})"', client.get("/nowhere").text)
    assert found
    return found[1]


FIGURE = {"line": "halfbreadth waterline 4-0-0", "station": "10", "what": "keep"}


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example", "", "192.168.1.4:8035"])
def test_a_request_by_another_name_is_refused(client: TestClient, host: str) -> None:
    """A Host that this server is not called by gets 400, so that no name can be rebound to it."""
    assert client.get("/nowhere", headers={"Host": host}).status_code == 400


@pytest.mark.parametrize("host", ["127.0.0.1:8035", "localhost:1", "[::1]:8035", "LOCALHOST"])
def test_its_own_names_are_let_in(client: TestClient, host: str) -> None:
    """The loopback's names are served, whatever the port."""
    assert client.get("/nowhere", headers={"Host": host}).status_code == 404


@pytest.mark.parametrize("path", ["/nowhere", "/style.css", "/static/app.js", "/"])
def test_every_answer_forbids_what_is_not_its_own(client: TestClient, path: str) -> None:
    """Each answer carries the strict policy: nothing inline, nothing from outside, no framing."""
    headers = client.get(path).headers
    policy = dict(p.split(" ", 1) for p in headers["content-security-policy"].split("; "))
    assert policy["default-src"] == "'none'"
    assert policy["script-src"] == policy["style-src"] == policy["connect-src"] == "'self'"
    assert policy["frame-ancestors"] == policy["base-uri"] == "'none'"
    assert "unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["x-frame-options"] == "DENY"
    assert headers["referrer-policy"] == "same-origin"
    assert {"geolocation=()", "microphone=()"} <= set(headers["permissions-policy"].split(", "))


def test_a_change_without_the_token_is_refused(client: TestClient, tmp_path: Path) -> None:
    """A post without its visit's token, or with another's, changes nothing."""
    token = _token(client)
    for body in (FIGURE, {**FIGURE, "token": "0" * 64}):
        assert client.post("/lines/settle", data=body).status_code == 403
    client.cookies.clear()
    assert client.post("/lines/settle", data={**FIGURE, "token": token}).status_code == 403
    assert not (tmp_path / "mends.csv").exists()


def test_a_forged_visit_is_not_known(client: TestClient) -> None:
    """A cookie that we did not sign is no visit, even with the token that would go with it."""
    token = _token(client)
    cookie = client.cookies["futtock-visit"]
    visit, _, signed = cookie.rpartition(".")
    client.cookies.clear()
    client.cookies.set("futtock-visit", f"{visit}.{'0' * len(signed)}")
    assert client.post("/lines/settle", data={**FIGURE, "token": token}).status_code == 403


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"Origin": "http://127.0.0.1:9999"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
def test_a_form_of_another_site_is_refused(client: TestClient, headers: dict[str, str]) -> None:
    """Even with the right token, a post from another origin is refused."""
    body = {**FIGURE, "token": _token(client)}
    assert client.post("/lines/settle", data=body, headers=headers).status_code == 403


def test_too_much_at_once_is_refused(client: TestClient) -> None:
    """A body beyond the bound is refused by its stated length, and where none is stated."""
    token = _token(client)
    long = client.post("/lines/settle", data={**FIGURE, "token": token, "more": "x" * 60_000})
    assert long.status_code == 413

    def pieces() -> Iterator[bytes]:
        yield b"token=" + token.encode()
        for _ in range(60):
            yield b"&x=" + b"y" * 1000

    kind = {"Content-Type": "application/x-www-form-urlencoded"}
    assert client.post("/lines/settle", content=pieces(), headers=kind).status_code == 413


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py",
        "/static/%2e%2e/app.py",
        "/static/..%2f..%2fjob/whole.py",
        "/static//etc/passwd",
        "/static/vendor/../../guard.py",
    ],
)
def test_no_path_leads_out_of_what_is_served(client: TestClient, path: str) -> None:
    """No address reaches a file beside those that are served."""
    assert client.get(path).status_code == 404


def test_the_cookie_stays_with_this_site(client: TestClient) -> None:
    """No script reads the visit's cookie, and no other site sends it."""
    said = client.get("/nowhere").headers["set-cookie"]
    assert "HttpOnly" in said
    assert "SameSite=Strict" in said


def test_templates_hold_nothing_inline() -> None:
    """No template carries a style, a handler or a script of its own: the policy would block it."""
    templates = sorted((ROOT / "futtock" / "web" / "templates").glob("*.html"))
    assert len(templates) > 5
    bad = re.compile(r"<style|\sstyle=|<script(?![^>]*\ssrc=)|\son[a-z]+=|javascript:|https?://")
    assert {t.name: m[0] for t in templates if (m := bad.search(t.read_text("utf-8")))} == {}


def test_a_folder_without_papers_is_told_of(tmp_path: Path) -> None:
    """An empty folder gives pages that say what is wanting, never a trace."""
    folder = tmp_path / "nothing"
    folder.mkdir()
    shutil.copy(ROOT / "futtock" / "demo" / "slabs.json", folder)
    app = make_app(folder)
    with TestClient(app, base_url="http://localhost") as client:
        for step in ("papers", "lines", "frames", "moulds", "hull"):
            assert app.state.office.sitting().wait(step, 60)
        assert "No vessel is here yet." in client.get("/").text
        for path in ("/lines", "/frames", "/moulds/1-P-f1", "/layout", "/yard"):
            answer = client.get(path)
            assert answer.status_code == 422
            assert "No vessel is here yet" in answer.text
            assert "Begin her first" in answer.text
            assert "Traceback" not in answer.text
