"""Serve one property to this machine's own browser."""

import socket
from collections.abc import Callable
from pathlib import Path

import uvicorn

from gladebook.errors import CallError
from gladebook.io.photo import Photo
from gladebook.web.app import make_app

__all__ = ["serve"]


def serve(path: Path, *, port: int | None, photo: Photo | None = None, ready: Callable[[str], None]) -> None:
    """Serve until stopped.

    Parameters
    ----------
    path
        The property file; it must be there.
    port
        Where to listen; None for any that is free.
    photo
        A photo from above that lies on this computer.
    ready
        Called with the page's address once it can be opened.

    Raises
    ------
    CallError
        Where the port is taken.
    """
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind(("127.0.0.1", port or 0))
    except OSError:
        listening.close()
        raise CallError(f"--port: {port} is taken by another program. Leave it out, or name another.") from None
    found = listening.getsockname()[1]
    config = uvicorn.Config(
        make_app(path, port=found, photo=photo),
        log_level="warning",
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=2,
    )
    listening.listen(128)
    ready(f"http://127.0.0.1:{found}/")
    uvicorn.Server(config).run(sockets=[listening])
