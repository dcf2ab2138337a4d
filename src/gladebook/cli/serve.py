"""``gladebook serve``."""

import importlib.util
from pathlib import Path
from typing import Annotated

import typer

from gladebook.cli.show import say
from gladebook.errors import CallError, MissingExtra

__all__ = ["serve"]


def serve(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="The property file; made where there is none.", show_default=False)
    ],
    port: Annotated[
        int | None, typer.Option("--port", metavar="NUMBER", help="Where to listen; any free one else.")
    ] = None,
    no_browser: Annotated[bool, typer.Option("--no-browser", help="Print the address and open nothing.")] = False,
) -> None:
    """Open the property as a page in your browser, on this machine alone. Needs no internet. Stop it with Ctrl+C."""
    if port is not None and not 1024 <= port <= 65_535:
        raise CallError("--port: must be from 1024 to 65535.")
    if any(importlib.util.find_spec(name) is None for name in ("fastapi", "uvicorn")):
        raise MissingExtra('The page needs the extra "web". Run: pip install "gladebook[web]"')
    from gladebook.jobs.property import holding_of, make_property
    from gladebook.web.serve import serve as run

    if file.exists():
        holding_of(file)
    else:
        say(make_property(file, name=None)[:1])

    def ready(address: str) -> None:
        print(address, flush=True)
        if not no_browser:
            import webbrowser

            webbrowser.open(address)

    run(file, port=port, ready=ready)
