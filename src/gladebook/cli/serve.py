"""``gladebook serve``."""

import importlib.util
from pathlib import Path
from typing import Annotated

import typer

from gladebook.cli.show import say
from gladebook.errors import CallError, MissingExtra, UnreadableFile

__all__ = ["serve"]


def serve(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="The property file; made where there is none.", show_default=False)
    ],
    port: Annotated[
        int | None, typer.Option("--port", metavar="NUMBER", help="Where to listen; any free one else.")
    ] = None,
    photo: Annotated[
        Path | None,
        typer.Option(
            "--photo",
            metavar="FILE",
            help='A photo from above on this computer: MBTiles, or a GeoTIFF with the extra "raster". Without it, '
            "public-domain tiles while there is internet.",
        ),
    ] = None,
    no_browser: Annotated[bool, typer.Option("--no-browser", help="Print the address and open nothing.")] = False,
) -> None:
    """Open the property as a page in your browser, on this machine alone. Needs no internet. Stop it with Ctrl+C."""
    if port is not None and not 1024 <= port <= 65_535:
        raise CallError("--port: must be from 1024 to 65535.")
    if any(importlib.util.find_spec(name) is None for name in ("fastapi", "uvicorn")):
        raise MissingExtra('The page needs the extra "web". Run: pip install "gladebook[web]"')
    if file.is_dir():
        raise UnreadableFile(f"{file.name}: is a folder. Name the property file in it, like fernhollow.gpkg.")
    from gladebook.io.property.open import connected
    from gladebook.web.serve import serve as run

    shown = None
    if photo is not None:
        from gladebook.io.photo import open_photo

        shown = open_photo(photo)
    if file.exists():
        with connected(file):  # refuses what is no property, and brings an older one up to date
            pass
    else:
        from gladebook.jobs.property import make_property

        say(make_property(file, name=None)[:1])

    def ready(address: str) -> None:
        print(address, flush=True)
        if not no_browser:
            import webbrowser

            webbrowser.open(address)

    run(file, port=port, photo=shown, ready=ready)
