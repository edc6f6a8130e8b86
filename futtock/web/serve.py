"""The server: one folder, on this machine alone."""

from __future__ import annotations

import socket
from collections.abc import Callable

from futtock.errors import Misused


def serve(folder: str, port: int, *, say: Callable[[str], object]) -> None:
    """Serve the pages of a vessel folder on the loopback address until interrupted.

    Parameters
    ----------
    say
        Told the address, once it can be opened.

    Raises
    ------
    Misused
        Where the port is taken.
    """
    import uvicorn

    from futtock.web.app import make_app

    door = socket.socket()
    door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        door.bind(("127.0.0.1", port))
    except OSError as error:
        door.close()
        raise Misused(f"Port {port} cannot be had: {error.strerror}. Name another.") from None
    app = make_app(folder)
    app.state.office.sitting()
    say(f"{folder}: http://127.0.0.1:{door.getsockname()[1]}/ (stop with Ctrl-C)")
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
    )
    uvicorn.Server(config).run(sockets=[door])
