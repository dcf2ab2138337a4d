"""Serve one property to this machine's own browser.

The page's address is told as soon as the port listens: what the browser asks waits there while the server is loaded.
"""

import socket
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from gladebook.errors import CallError

if TYPE_CHECKING:
    from starlette.types import ASGIApp

    from gladebook.io.photo import Photo

__all__ = ["serve"]


def serve(path: Path, *, port: int | None, photo: "Photo | None" = None, ready: Callable[[str], None]) -> None:
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
    listening.listen(128)
    ready(f"http://127.0.0.1:{found}/")
    import uvicorn

    from gladebook.web.first import First
    from gladebook.web.shelf import Shelf

    shelf = Shelf(path, photo)

    def whole() -> "ASGIApp":
        from gladebook.web.app import make_app

        return make_app(shelf, port=found)

    config = uvicorn.Config(
        First(shelf, port=found, load=whole),
        loop="asyncio",
        http="h11",
        ws="none",
        log_level="warning",
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=2,
    )
    uvicorn.Server(config).run(sockets=[listening])
