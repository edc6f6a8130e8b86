"""The door to the yard's network: joining by a code, roles, limits, forged cookies, putting out."""

from __future__ import annotations

import base64
import json
import re
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from futtock.web.app import make_app
from futtock.web.door import ALL_TRIES, CODE_LENGTH, LETTERS, TRIES, TRIES_S, Door, TooOften
from futtock.web.guard import LOOPBACK
from futtock.web.visit import COOKIE, LASTS_S, SAFE_COOKIE, cookie_of, new_visit, visit_in

ROOT = Path(__file__).resolve().parents[2]
HOST = "10.0.0.5"
ADDRESS = f"http://{HOST}:8035"


class _Clock:
    def __init__(self) -> None:
        self.now = 1_800_000_000.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def app(tmp_path: Path) -> Iterator[FastAPI]:
    (tmp_path / "vessel.toml").write_text('[vessel]\nname = "Marram"\n', encoding="utf-8")
    app = make_app(tmp_path, hosts=(*LOOPBACK, HOST), address=ADDRESS)
    assert app.state.office.sitting().wait("papers", 60)
    yield app
    app.state.office.sitting().leave()
    app.state.office.tasks.end()


def _tablet(app: FastAPI, address: str = "10.0.0.77", base: str = ADDRESS) -> TestClient:
    return TestClient(
        app, base_url=base, client=(address, 50_000), follow_redirects=False,
        headers={"Accept": "text/html"},
    )  # fmt: skip


def _token(client: TestClient, path: str = "/join") -> str:
    found = re.search(r'data-token="([0-9a-f]{64})"', client.get(path).text)
    assert found
    return found[1]


def _join(client: TestClient, code: str, **more: str) -> Any:
    return client.post("/join", data={"token": _token(client), "code": code, **more})


def _code(app: FastAPI, role: str) -> str:
    return str(app.state.door.codes()[role])


def test_who_has_not_joined_sees_nothing_of_her(app: FastAPI) -> None:
    """From the network every page leads to joining, whatever is fetched by a script gets 401, and
    neither tells the vessel's name; the desk itself needs no code.
    """
    tablet = _tablet(app)
    for path in ("/", "/saw", "/traveller/12?r=r1", "/rack", "/door", "/openapi.json", "/nowhere"):
        answer = tablet.get(path)
        assert answer.status_code == 303, path
        assert answer.headers["location"].startswith("/join?to=%2F")
        assert tablet.get(path, headers={"Accept": "*/*"}).status_code == 401
    for path in ("/join", "/static/nothing.js", "/static/../../vessel.toml"):
        assert "Marram" not in tablet.get(path).text
    assert tablet.post("/floor/entries", json={}).status_code == 401
    desk = _tablet(app, "127.0.0.1", "http://127.0.0.1:8035")
    assert desk.get("/papers").status_code == 200
    assert desk.get("/door").status_code == 200


@pytest.mark.parametrize(
    ("address", "base", "headers"),
    [
        ("10.0.0.77", "http://127.0.0.1:8035", {}),  # another machine that says the desk's name
        ("127.0.0.1", ADDRESS, {}),
        ("127.0.0.1", "http://localhost:8035", {"X-Forwarded-For": "203.0.113.9"}),
        ("127.0.0.1", "http://localhost:8035", {"Forwarded": "for=203.0.113.9"}),
        ("127.0.0.1", "http://localhost:8035", {"Via": "1.1 relay"}),
    ],
)
def test_only_the_desk_is_the_desk(
    app: FastAPI, address: str, base: str, headers: dict[str, str]
) -> None:
    """Who calls the server by the desk's name from elsewhere, or is handed on by a relay on this
    machine, must join.
    """
    answer = _tablet(app, address, base).get("/papers", headers=headers)
    assert (answer.status_code, answer.headers["location"]) == (303, "/join?to=%2Fpapers")


def test_a_code_lets_in_and_leads_on(app: FastAPI) -> None:
    """The code as it is read out, with a blank and in small letters, lets a tablet in under a new
    visit, and on to the page that was asked for; no page of another server is gone on to.
    """
    tablet = _tablet(app)
    before = _token(tablet)
    code = _code(app, "bench")
    answer = _join(tablet, f" {code[:4]} {code[4:]}".lower(), to="/traveller/12?r=r1", called="saw")
    assert (answer.status_code, answer.headers["location"]) == (303, "/traveller/12?r=r1")
    assert "Max-Age=43200" in answer.headers["set-cookie"]
    after = re.search(r'data-token="(\w+)"', tablet.get("/leave").text)
    assert after is not None
    assert after[1] != before
    for to in ("//evil.example/", "https://evil.example/", "/\\evil.example", "evil", "/a\r\nb"):
        again = _tablet(app)
        assert _join(again, code, to=to).headers["location"] == "/saw"
    assert _join(_tablet(app), _code(app, "builder"), to="//x").headers["location"] == "/"


def test_the_bench_may_mark_work_and_not_change_the_vessel(app: FastAPI) -> None:
    """Of every address of the app that takes something in, the bench may use the floor's and a
    slab's meter reading, and is refused each other; the builder's code opens them.
    """
    bench, builder = _tablet(app), _tablet(app)
    _join(bench, _code(app, "bench"))
    _join(builder, _code(app, "builder"))
    token = {"X-Futtock-Token": _token(bench, "/leave")}
    theirs = {"X-Futtock-Token": _token(builder, "/leave")}
    paths = app.openapi()["paths"]
    asked = [(p, re.sub(r"\{\w+\}", "1", p)) for p, how in paths.items() if "post" in how]
    assert len(asked) > 15
    may = {"/floor/entries", "/floor/photographs", "/traveller/{mark}",
           "/traveller/{mark}/photograph", "/rack/slab/moisture"}  # fmt: skip
    for path, at in asked:
        if path in ("/leave", "/join"):
            continue
        refused = bench.post(at, headers=token).status_code == 403
        assert refused == (path not in may), path
    for path in ("/door", "/openapi.json"):
        assert bench.get(path).status_code == 403
        assert builder.get(path).status_code == 200
    kept = builder.post("/papers/vessel.toml", headers=theirs, data={"text": '[vessel]\nname="B"'})
    assert kept.status_code != 403
    for method in ("put", "delete", "patch"):
        assert getattr(bench, method)("/papers/vessel.toml", headers=token).status_code in (
            403,
            405,
        )


def test_wrong_codes_must_wait(app: FastAPI) -> None:
    """After five wrong codes even the right one is not heard from that address for ten minutes;
    another address is, until sixty have come in an hour from all together.
    """
    clock = _Clock()
    door = Door(app.state.office.folder, ADDRESS, clock=clock)
    right = door.codes()["bench"]
    for _ in range(TRIES):
        assert door.let_in("AAAA2222", "10.0.0.9") is None
        clock.now += 1
    with pytest.raises(TooOften) as error:
        door.let_in(right, "10.0.0.9")
    assert TRIES_S - 10 < error.value.wait_s <= TRIES_S
    assert door.let_in(right, "10.0.0.10") is not None
    clock.now += TRIES_S
    assert door.let_in(right, "10.0.0.9") is not None
    for k in range(ALL_TRIES - TRIES):
        assert door.let_in("", f"10.0.1.{k}") is None
    with pytest.raises(TooOften):
        door.let_in(right, "10.0.2.1")


def test_the_page_says_to_wait(app: FastAPI) -> None:
    """The page answers 403 to a wrong code and 429 with Retry-After to one too many."""
    tablet = _tablet(app)
    answers = [_join(tablet, "2222AAAA") for _ in range(TRIES + 1)]
    assert [a.status_code for a in answers] == [403] * TRIES + [429]
    assert "That is not the code" in answers[0].text
    assert 500 < int(answers[-1].headers["retry-after"]) <= 601
    assert "Wait 10 min" in answers[-1].text


def test_a_code_is_hard_to_guess_and_does_not_last(app: FastAPI) -> None:
    """A code has 39 bits at least, in letters that are not taken for each other; it changes when
    asked and after a working day, and the former then lets nobody in.
    """
    clock = _Clock()
    door = Door(app.state.office.folder, ADDRESS, clock=clock)
    seen = set()
    for _ in range(50):
        door.new_codes()
        seen |= set(door.codes().values())
    assert len(seen) == 100
    assert len(LETTERS) ** CODE_LENGTH > 2**39
    assert not set("01OILU") & set(LETTERS)
    assert all(len(c) == CODE_LENGTH and set(c) <= set(LETTERS) for c in seen)
    old = door.codes()["builder"]
    clock.now += 12 * 3600 + 1
    assert door.let_in(old, "10.0.0.9") is None
    assert door.link("bench").endswith("/join#" + door.codes()["bench"])


def test_forged_cookies_let_nobody_in(app: FastAPI) -> None:
    """A cookie that is unsigned, signed with another key, changed in role, cut, or of the former
    kind is no joining; nor is one whose day is over.
    """
    key = app.state.key
    now = int(app.state.door.clock())
    good = new_visit("bench", now)

    def value(header: str) -> str:
        return header.partition("=")[2].partition(";")[0]

    bench = value(cookie_of(good, key, sealed=False))
    text, _, signed = bench.rpartition(".")
    said = json.loads(base64.urlsafe_b64decode(text + "=="))
    said[1] = "builder"
    raised = base64.urlsafe_b64encode(json.dumps(said).encode()).decode().rstrip("=")
    old = value(cookie_of(new_visit("builder", now - LASTS_S - 5), key, sealed=False))
    ahead = value(cookie_of(new_visit("builder", now + 9999), key, sealed=False))
    forged = [
        text, f"{text}.", f"{text}.{'0' * 64}", f"{raised}.{signed}", bench[:-1], bench + "0",
        value(cookie_of(new_visit("builder", now), b"another key", sealed=False)),
        ".", "a.b", "x" * 5000, old, ahead,
    ]  # fmt: skip
    for cookie in forged:
        tablet = _tablet(app)
        answer = tablet.get("/papers", headers={"Cookie": f"{COOKIE}={cookie}"})
        assert answer.status_code == 303, cookie[:80]
    true = _tablet(app).get("/papers", headers={"Cookie": f"{COOKIE}={bench}"})
    assert true.status_code == 200
    # a role that there is none of, though signed
    strange = new_visit("bench", now)
    object.__setattr__(strange, "role", "owner")
    cookies = f"{COOKIE}={value(cookie_of(strange, key, sealed=False))}"
    assert visit_in(cookies, key, sealed=False) is None


def test_who_is_put_out_stays_out(app: FastAPI) -> None:
    """Putting out, and leaving, end the visit though its cookie is kept, and also for a server
    that is started anew; others stay in.
    """
    one, two = _tablet(app), _tablet(app, "10.0.0.78")
    _join(one, _code(app, "bench"), called="by the saw")
    _join(two, _code(app, "bench"))
    desk = _tablet(app, "127.0.0.1", "http://127.0.0.1:8035")
    shown = desk.get("/door").text
    assert "by the saw" in shown
    found = r'name="visit" value="([^"]+)"><button class="btn" aria-label="Put out: by the saw"'
    visit = re.search(found, shown)
    assert visit is not None
    done = desk.post("/door/out", data={"token": _token(desk, "/door"), "visit": visit[1]})
    assert done.status_code == 303
    assert one.get("/papers").status_code == 303
    assert two.get("/papers").status_code == 200
    kept = dict(two.cookies)
    left = two.post("/leave", data={"token": _token(two, "/leave")})
    assert '"cache"' in left.headers["clear-site-data"]
    stolen = _tablet(app)
    anew = make_app(app.state.office.folder, hosts=(*LOOPBACK, HOST), address=ADDRESS)
    for tablet in (stolen, _tablet(anew)):
        for name, said in kept.items():
            tablet.cookies.set(name, said)
        assert tablet.get("/papers").status_code == 303
    anew.state.office.sitting().leave()


def test_a_joined_tablet_stays_in_when_the_server_starts_anew(app: FastAPI) -> None:
    """The cookie outlives the server, so that what waits on a tablet is sent without joining."""
    tablet = _tablet(app)
    _join(tablet, _code(app, "bench"))
    anew = make_app(app.state.office.folder, hosts=(*LOOPBACK, HOST), address=ADDRESS)
    again = _tablet(anew)
    again.cookies.update(tablet.cookies)
    assert anew.state.office.sitting().wait("papers", 60)
    assert again.get("/papers").status_code == 200
    anew.state.office.sitting().leave()


def test_a_sealed_connection_has_a_cookie_of_its_own(app: FastAPI) -> None:
    """Over TLS the cookie is Secure and bound to the host by its name, and browsers are told to
    stay with TLS; a cookie that was set without TLS counts for nothing there.
    """
    sealed = _tablet(app, base=f"https://{HOST}:8035")
    answer = sealed.get("/join")
    said = answer.headers["set-cookie"]
    assert said.startswith(SAFE_COOKIE + "=")
    assert "; Secure" in said
    assert "Domain" not in said
    assert "max-age=" in answer.headers["strict-transport-security"]
    assert "strict-transport-security" not in _tablet(app).get("/join").headers
    plain = cookie_of(new_visit("builder", app.state.door.clock()), app.state.key, sealed=False)
    cookie = plain.partition(";")[0]
    assert sealed.get("/papers", headers={"Cookie": cookie}).status_code == 303


def test_joining_from_another_site_is_refused(app: FastAPI) -> None:
    """A page of another site can neither post a code nor let anybody out or in."""
    tablet = _tablet(app)
    data = {"token": _token(tablet), "code": _code(app, "builder")}
    for headers in ({"Origin": "http://evil.example"}, {"Sec-Fetch-Site": "cross-site"}):
        assert tablet.post("/join", data=data, headers=headers).status_code == 403
    assert tablet.post("/join", data={**data, "token": "0" * 64}).status_code == 403
    desk = _tablet(app, "127.0.0.1", "http://127.0.0.1:8035")
    for path in ("/door/codes", "/door/out"):
        sent = desk.post(path, data={"visit": "x"}, headers={"Origin": "http://evil.example"})
        assert sent.status_code == 403


def test_one_address_cannot_send_without_end(app: FastAPI) -> None:
    """Beyond six hundred changes at once an address is told 429, and heard again a little later."""
    clock = _Clock()
    door = Door(app.state.office.folder, ADDRESS, clock=clock)
    assert all(door.may_send("10.0.0.9") for _ in range(600))
    assert not door.may_send("10.0.0.9")
    assert door.may_send("10.0.0.10")
    clock.now += 0.25
    assert door.may_send("10.0.0.9")


def test_who_came_to_the_door_is_written_down(app: FastAPI) -> None:
    """Joining, wrong codes, and what a role may not do are logged in the folder, with addresses and
    without codes; a name with a line's end makes no line of its own.
    """
    tablet = _tablet(app)
    _join(tablet, "22222222")
    _join(tablet, _code(app, "bench"), called="saw\nWARNING let in nobody")
    tablet.post("/papers/vessel.toml", data={"token": _token(tablet, "/leave")})
    log = (app.state.office.folder / ".futtock" / "door.log").read_text("utf-8")
    assert "wrong code from 10.0.0.77" in log
    assert "refused 10.0.0.77: POST '/papers/vessel.toml', 403" in log
    tablet.post("/floor/entries", json={}, headers={"Origin": "http://evil.example"})
    tablet.post("/leave", data={"token": "0" * 64})
    more = (app.state.office.folder / ".futtock" / "door.log").read_text("utf-8")[len(log) :]
    assert "POST '/floor/entries', 403" in more
    assert "no token from 10.0.0.77 for '/leave'" in more
    for name in ("door.log", "pages.key"):
        assert (app.state.office.folder / ".futtock" / name).stat().st_mode & 0o077 == 0
    assert _code(app, "bench") not in log
    assert all(re.match(r"\d{4}-\d\d-\d\d .*Z (INFO|WARNING) ", line) for line in log.splitlines())


def test_the_server_starts_for_a_yard_alone(tmp_path: Path) -> None:
    """An address of the whole internet, of this machine alone, of another machine or of none is
    refused with words, as are a certificate that cannot be read and one without its key.
    """
    from futtock.errors import Misused
    from futtock.web.serve import Network, serve

    for address, words in (
        ("8.8.8.8", "whole internet"),
        ("127.0.0.1", "this machine alone"),
        ("0.0.0.0", "no address that tablets"),
        ("no such name.invalid", "no address of this machine"),
        ("10.255.255.254", "cannot be had"),
    ):
        with pytest.raises(Misused, match=words):
            serve(str(tmp_path), 0, say=lambda _: None, network=Network(address))
    bad = tmp_path / "bad.pem"
    bad.write_text("nothing", encoding="utf-8")
    for cert, key, words in (
        (str(bad), "", "needs its key"),
        (str(bad), str(bad), "not a certificate"),
        (str(tmp_path / "none"), str(bad), "cannot be read"),
    ):
        with pytest.raises(Misused, match=words):
            serve(str(tmp_path), 0, say=lambda _: None, network=Network("", cert, key))


def test_the_whole_server_on_this_machines_network(app: FastAPI) -> None:
    """``futtock serve --lan`` prints address and codes; the desk answers without a code, the
    network only by joining; a print made meanwhile leads there, and none after it has stopped.
    """
    from futtock.errors import Misused
    from futtock.job.door import traveller_link
    from futtock.web.serve import _reached

    try:
        address = _reached("")[1]
    except Misused as error:
        pytest.skip(str(error))
    folder = app.state.office.folder
    words = [sys.executable, "-u", "-m", "futtock", "serve", str(folder), "--port", "0", "--lan"]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True, cwd=ROOT) as process:
        try:
            assert process.stdout is not None
            said = [process.stdout.readline() for _ in range(5)]
            desk = re.search(r"http://127\.0\.0\.1:(\d+)/ at this desk", said[0])
            assert desk is not None
            url = f"http://{address}:{desk[1]}"
            assert f"{url}/" in said[1]
            assert re.search(r"bench: [A-Z0-9]{4} [A-Z0-9]{4} .*builder: ", said[3])
            for _ in range(100):
                if traveller_link(folder):
                    break
                time.sleep(0.1)
            assert traveller_link(folder) == url + "/traveller/{mark}?r={revision}"
            assert _status(f"http://127.0.0.1:{desk[1]}/door") == 200
            assert _status(f"{url}/door") == 401
            assert _status(f"{url}/join") == 200
        finally:
            process.send_signal(signal.SIGINT)
            process.wait(20)
    assert traveller_link(folder) == ""


def _status(url: str) -> int:
    for _ in range(100):
        try:
            with urllib.request.urlopen(url, timeout=10) as answer:
                return int(answer.status)
        except urllib.error.HTTPError as error:
            return error.code
        except OSError:
            time.sleep(0.1)
    raise AssertionError(url)
