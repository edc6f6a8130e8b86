"""Tablets on the yard's network in Chromium: joined by a scanned code, sealed by a certificate."""

from __future__ import annotations

import base64
import datetime
import hashlib
import ipaddress
import re
import socket
import ssl
import threading
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

import cv2
import numpy as np
import pypdfium2
import pytest
from fastapi import FastAPI
from playwright.sync_api import Browser, expect, sync_playwright
from web_served import events, kept_pages, tablet, until

from futtock.job.door import say_served
from futtock.web.app import make_app
from futtock.web.guard import LOOPBACK
from futtock.web.serve import Network, _sealing, _server

pytestmark = pytest.mark.browser

NAME = "yard.test"


@pytest.fixture(scope="module")
def authority(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path, str]:
    """A certificate for ``yard.test`` and this machine, its key, and the hash of its public key."""
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec

    place = tmp_path_factory.mktemp("cert")
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "The yard")])
    now = datetime.datetime.now(datetime.UTC)
    names = [x509.DNSName(NAME), x509.IPAddress(ipaddress.ip_address("127.0.0.1"))]
    cert = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - datetime.timedelta(days=1))
        .not_valid_after(now + datetime.timedelta(days=30))
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .sign(key, hashes.SHA256())
    )
    pem = serialization.Encoding.PEM
    (place / "cert.pem").write_bytes(cert.public_bytes(pem))
    private = key.private_bytes(
        pem, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    (place / "key.pem").write_bytes(private)
    public = key.public_key().public_bytes(
        serialization.Encoding.DER, serialization.PublicFormat.SubjectPublicKeyInfo
    )
    pinned = base64.b64encode(hashlib.sha256(public).digest()).decode()
    return place / "cert.pem", place / "key.pem", pinned


@pytest.fixture(scope="module")
def floor_browser(chromium: str, authority: tuple[Path, Path, str]) -> Iterator[Browser]:
    """Chromium, to which ``yard.test`` is this machine, and the certificate a known one."""
    words = [
        "--no-sandbox",
        f"--host-resolver-rules=MAP {NAME} 127.0.0.1",
        f"--ignore-certificate-errors-spki-list={authority[2]}",
    ]
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium, args=words)
        yield browser
        browser.close()


@pytest.fixture
def yard(
    small_app: FastAPI, authority: tuple[Path, Path, str]
) -> Iterator[Callable[..., tuple[FastAPI, str]]]:
    """The small vessel served to the yard's network, sealed or not: its app and its address."""
    running: list[tuple[Any, threading.Thread, FastAPI]] = []

    def start(*, sealed: bool) -> tuple[FastAPI, str]:
        door = socket.socket()
        door.bind(("127.0.0.1", 0))
        port = door.getsockname()[1]
        address = f"{'https' if sealed else 'http'}://{NAME}:{port}"
        app = make_app(small_app.state.office.folder, hosts=(*LOOPBACK, NAME), address=address)
        app.state.office.follow(small_app.state.office.sitting())
        more = _sealing(Network("", str(authority[0]), str(authority[1]))) if sealed else {}
        server = _server(app, **more)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [door]}, daemon=True)
        thread.start()
        until(lambda: server.started)
        running.append((server, thread, app))
        assert app.state.office.sitting().wait("moulds", 120)
        return app, address

    yield start
    for server, thread, app in running:
        server.should_exit = True
        thread.join(5)
        app.state.office.sitting().leave()


def test_a_tablet_joins_by_the_scanned_code(
    floor_browser: Browser, yard: Callable[..., tuple[FastAPI, str]]
) -> None:
    """Over a sealed connection a traveller's link leads to joining, and the code to the traveller,
    never within an address that is asked for; put out while it works it says so, keeps what is
    ticked, and sends it once when it has joined again. Its page opens again without the network,
    and no more once it has left.
    """
    app, address = yard(sealed=True)
    context, page = tablet(floor_browser, 390, 844)
    asked: list[str] = []
    page.on("request", lambda r: asked.append(r.url))
    page.goto(f"{address}/traveller/1-P-f1?r={app.state.office.sitting().job.revision}")
    expect(page.locator("h1")).to_have_text("Join the yard's pages")
    to = page.locator("input[name=to]").input_value()
    page.goto(app.state.door.link("bench"))
    page.reload()
    page.evaluate("to => document.querySelector('[name=to]').value = to", to)
    code = app.state.door.codes()["bench"]
    assert page.locator("#code").input_value() in ("", code)
    page.fill("#code", code)
    page.get_by_role("button", name="Join").tap()
    expect(page.locator("h1")).to_contain_text("Timber 1-P-f1")
    assert not [u for u in asked if code in u]
    assert not [u for u in asked if not u.startswith(address) and not u.startswith("data:")]
    page.fill("#who", "Ines")
    page.locator(".ticks button").nth(0).tap()
    expect(page.locator("#net")).to_have_text("Connected.")
    inside = app.state.door.inside()
    assert len(inside) == 1
    app.state.door.put_out(inside[0].visit.id)
    page.locator(".ticks button").nth(1).tap()
    expect(page.locator("#net")).to_have_text("This tablet must join again. 1 entry waits on it.")
    page.get_by_role("link", name="Join again").tap()
    page.fill("#code", app.state.door.codes()["bench"])
    page.get_by_role("button", name="Join").tap()
    expect(page.locator("h1")).to_contain_text("Timber 1-P-f1")
    expect(page.locator("#net")).to_have_text("Connected.")
    assert [e.stage for e in events(app)] == ["moulded", "laid-out"]
    until(lambda: "/traveller/1-P-f1" in kept_pages(page))
    context.set_offline(True)
    page.reload()
    expect(page.locator("h1")).to_contain_text("Timber 1-P-f1")
    context.set_offline(False)
    page.goto(f"{address}/leave")
    page.get_by_role("button", name="Leave").tap()
    expect(page.locator("h1")).to_have_text("This browser is out.")
    until(lambda: page.evaluate("caches.keys().then(k => k.length)") == 0)
    page.goto(f"{address}/saw")
    expect(page.locator("h1")).to_have_text("Join the yard's pages")
    context.close()


def test_the_scanned_code_fills_the_form(
    floor_browser: Browser, yard: Callable[..., tuple[FastAPI, str]]
) -> None:
    """Also without a sealed connection: the code is in the form, gone from the address and from
    what is sent, and one touch joins; what is ticked there while the network is gone is sent later.
    """
    app, address = yard(sealed=False)
    context, page = tablet(floor_browser)
    asked: list[str] = []
    page.on("request", lambda r: asked.append(r.url))
    page.goto(app.state.door.link("bench"))
    expect(page.locator("#code")).to_have_value(app.state.door.codes()["bench"])
    assert "#" not in page.url
    page.get_by_role("button", name="Join").tap()
    expect(page.locator("h1")).to_contain_text("ready for the saw")
    assert all(app.state.door.codes()["bench"] not in u for u in asked)
    page.goto(f"{address}/traveller/1-P-f1")
    page.fill("#who", "Tam")
    context.set_offline(True)
    page.locator(".ticks button").nth(0).tap()
    expect(page.locator("#net")).to_contain_text("1 entry waits")
    context.set_offline(False)
    expect(page.locator("#net")).to_have_text("Connected.", timeout=12_000)
    assert [(e.stage, e.who) for e in events(app)] == [("moulded", "Tam")]
    context.close()


def test_the_codes_are_read_by_a_camera(
    floor_browser: Browser, yard: Callable[..., tuple[FastAPI, str]]
) -> None:
    """The codes on the desk's page, as they are drawn, read as the links to join by; the code on a
    traveller that is printed meanwhile reads as the link to its frame, and opens it.
    """
    app, address = yard(sealed=False)
    desk = f"http://127.0.0.1:{address.rpartition(':')[2]}"
    page = floor_browser.new_page(viewport={"width": 1024, "height": 768})
    page.goto(f"{desk}/door")
    codes = page.locator(".door-code")
    read = [_read(codes.nth(k).screenshot()) for k in range(codes.count())]
    assert read == [app.state.door.link(role) for role in ("bench", "builder")]
    folder = app.state.office.folder
    say_served(folder, address)
    try:
        content = page.request.get(f"{desk}/frames/2/sheets.pdf").body()
    finally:
        say_served(folder, "")
    document = pypdfium2.PdfDocument(content)
    picture = document[1].render(scale=300 / 72).to_numpy()
    document.close()
    link = _read(cv2.imencode(".png", picture)[1].tobytes())
    revision = app.state.office.sitting().job.revision
    assert link == f"{address}/traveller/2?r={revision}"
    page.goto(f"{desk}/traveller?code={quote(link)}")
    expect(page.locator("h1")).to_contain_text("Frame 2")
    page.close()


def _read(png: bytes) -> str:
    picture = cv2.imdecode(np.frombuffer(png, np.uint8), cv2.IMREAD_COLOR)
    assert picture is not None
    return str(cv2.QRCodeDetector().detectAndDecode(picture)[0])


def test_the_seal_is_a_sound_one(
    yard: Callable[..., tuple[FastAPI, str]], authority: tuple[Path, Path, str]
) -> None:
    """The connection is at least TLS 1.2 under the given certificate; older ones, another name and
    plain text get nowhere; the cookie is Secure.
    """
    _, address = yard(sealed=True)
    port = int(address.rpartition(":")[2])

    def ask(context: ssl.SSLContext, name: str) -> tuple[str, str]:
        line = socket.create_connection(("127.0.0.1", port), 10)
        with line, context.wrap_socket(line, server_hostname=name) as sealed:
            asked = f"GET /join HTTP/1.1\r\nHost: {NAME}\r\nConnection: close\r\n\r\n"
            sealed.sendall(asked.encode())
            said = b""
            while more := sealed.recv(65536):
                said += more
            return str(sealed.version()), said.decode("utf-8", "replace")

    context = ssl.create_default_context(cafile=str(authority[0]))
    version, said = ask(context, NAME)
    assert version in ("TLSv1.2", "TLSv1.3")
    assert said.startswith("HTTP/1.1 200")
    assert re.search(r"set-cookie: __Host-futtock-visit=\S+; .*Secure", said)
    second = ssl.create_default_context(cafile=str(authority[0]))
    second.maximum_version = ssl.TLSVersion.TLSv1_2
    assert ask(second, NAME)[0] == "TLSv1.2"
    second.set_ciphers("AES128-SHA:ECDHE-ECDSA-AES128-SHA:ECDHE-RSA-AES128-SHA:@SECLEVEL=0")
    with pytest.raises(ssl.SSLError):
        ask(second, NAME)
    with pytest.raises(ssl.SSLCertVerificationError):
        ask(context, "other.test")
    with pytest.raises(ssl.SSLCertVerificationError):
        ask(ssl.create_default_context(), NAME)
    old = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    old.load_verify_locations(str(authority[0]))
    old.set_ciphers("ALL:@SECLEVEL=0")
    old.minimum_version = ssl.TLSVersion.MINIMUM_SUPPORTED
    with pytest.warns(DeprecationWarning, match="deprecated"):
        old.maximum_version = ssl.TLSVersion.TLSv1_1
    with pytest.raises(ssl.SSLError):
        ask(old, NAME)
    with pytest.raises(OSError):
        urllib.request.urlopen(f"http://127.0.0.1:{port}/join", timeout=10)
