"""The server: one folder, on this machine alone or to the yard's network too."""

from __future__ import annotations

import contextlib
import ipaddress
import socket
import ssl
import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from futtock.errors import Misused

if TYPE_CHECKING:
    import uvicorn
    from fastapi import FastAPI

_CIPHERS = "ECDHE+AESGCM:ECDHE+CHACHA20"
"""For TLS 1.2: those with forward secrecy that also prove what came was not changed; TLS 1.3 has
no others."""
_NOWHERE = "192.0.2.1"
"""An address that is nobody's (RFC 5737): asking for the way to it sends nothing."""


@dataclass(frozen=True)
class Network:
    """How the pages are served to the yard's network.

    Attributes
    ----------
    address
        The address or name by which tablets reach this machine; empty: its address on the
        network that it is on.
    cert, key
        Files of a certificate and its key, PEM; empty: the connection is not sealed.
    """

    address: str = ""
    cert: str = ""
    key: str = ""


def serve(
    folder: str, port: int, *, say: Callable[[str], object], network: Network | None = None
) -> None:
    """Serve the pages of a vessel folder until interrupted.

    Parameters
    ----------
    say
        Told the address, once it can be opened.
    network
        Serve them to the yard's network besides; None: on the loopback address alone.

    Raises
    ------
    Misused
        Where the port is taken, the address is not this machine's, or the certificate does not
        serve.
    """
    from futtock.web.app import make_app
    from futtock.web.guard import LOOPBACK

    if network is None:
        door = _bound("127.0.0.1", port)
        app = make_app(folder)
        app.state.office.sitting()
        say(f"{folder}: http://127.0.0.1:{door.getsockname()[1]}/ (stop with Ctrl-C)")
        _server(app).run(sockets=[door])
        return
    sealing = _sealing(network)
    called, at = _reached(network.address)
    desk = _bound("127.0.0.1", port)
    port = desk.getsockname()[1]
    try:
        door = _bound(at, port)
    except Misused:
        desk.close()
        raise
    host = f"[{called}]" if ":" in called else called
    address = f"{'https' if sealing else 'http'}://{host}:{port}"
    app = make_app(folder, hosts=(*LOOPBACK, host), address=address)
    app.state.office.sitting()
    _tell(folder, app, port, say)
    _both(app, desk, door, sealing)


def _both(app: FastAPI, desk: socket.socket, door: socket.socket, sealing: dict[str, Any]) -> None:
    """Serve the desk, plain, and the network, sealed where it can be, until interrupted."""
    from futtock.job.door import say_served

    folder = app.state.office.folder
    outward = _server(app, **sealing)
    thread = threading.Thread(target=outward.run, kwargs={"sockets": [door]}, daemon=True)
    with contextlib.suppress(Exception):
        say_served(folder, app.state.door.address)
    thread.start()
    try:
        _server(app).run(sockets=[desk])
    finally:
        outward.should_exit = True
        thread.join(5)
        say_served(folder, "")


def _server(app: FastAPI, **more: Any) -> uvicorn.Server:
    import uvicorn

    config = uvicorn.Config(
        app,
        log_level="warning",
        access_log=False,
        server_header=False,
        date_header=True,
        timeout_keep_alive=30,
        limit_concurrency=200,
        h11_max_incomplete_event_size=65536,
        proxy_headers=False,
        lifespan="off",
        **more,
    )
    return uvicorn.Server(config)


def _tell(folder: str, app: FastAPI, port: int, say: Callable[[str], object]) -> None:
    """The addresses, the codes, and the code of the bench to scan."""
    from futtock.job.door import code_in_letters
    from futtock.web.door import shown_code

    door = app.state.door
    codes = door.codes()
    say(f"{folder}: http://127.0.0.1:{port}/ at this desk (stop with Ctrl-C)")
    say(f"On the yard's network: {door.address}/")
    if door.address.startswith("http:"):
        say("Not sealed: who listens on the network can read along. --cert and --key seal it.")
    say(f"To join at the bench: {shown_code(codes['bench'])}   as the builder: "
        f"{shown_code(codes['builder'])}")  # fmt: skip
    say(f"Codes to scan, and who is in: http://127.0.0.1:{port}/door")
    say(code_in_letters(door.link("bench")))


def _bound(address: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    door = socket.socket(family)
    door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        door.bind((address, port))
    except OSError as error:
        door.close()
        where = f"Port {port}" if address.startswith("127.") else f"Port {port} of {address}"
        raise Misused(f"{where} cannot be had: {error.strerror}. Name another.") from None
    return door


def _reached(address: str) -> tuple[str, str]:
    """What tablets call this machine, and its own address that they reach.

    Raises
    ------
    Misused
        Where it is on no network, the address is another's, or it is the whole internet's.
    """
    if not address:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as way:
            try:
                way.connect((_NOWHERE, 9))
            except OSError:
                raise Misused(
                    "This machine is on no network. Join one, or name its --address."
                ) from None
            address = way.getsockname()[0]
    called = address.strip("[]").lower()
    try:
        at = str(socket.getaddrinfo(called, None, type=socket.SOCK_STREAM)[0][4][0])
    except OSError:
        raise Misused(f"'{address}' is no address of this machine.") from None
    place = ipaddress.ip_address(at)
    if place.is_unspecified or place.is_multicast:
        raise Misused(f"'{address}' is no address that tablets can open; name one of this machine.")
    if place.is_loopback:
        raise Misused(f"'{address}' reaches this machine alone; name one on the yard's network.")
    if place.is_global:
        raise Misused(
            f"{at} can be reached from the whole internet. The pages are for a yard's own network:"
            " name an address on it with --address."
        )
    return called, at


def _sealing(network: Network) -> dict[str, Any]:
    """What uvicorn is told of the certificate; nothing where there is none.

    Raises
    ------
    Misused
        Where it cannot be read, or the key is not its own.
    """
    if not network.cert and not network.key:
        return {}
    if not network.cert or not network.key:
        raise Misused("A certificate needs its key, and a key its certificate: --cert and --key.")

    def asked() -> str:
        raise Misused(f"The key in '{network.key}' is locked by a password; give one without.")

    try:
        trial = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        trial.load_cert_chain(network.cert, network.key, asked)
    except ssl.SSLError:
        raise Misused(
            f"'{network.cert}' and '{network.key}' are not a certificate and its own key (PEM)."
        ) from None
    except OSError as error:
        raise Misused(f"The certificate or its key cannot be read: {error.strerror}.") from None
    return {"ssl_certfile": network.cert, "ssl_keyfile": network.key, "ssl_ciphers": _CIPHERS}
