"""Files that are dropped into the page."""

from pathlib import Path

from fastapi import Request
from starlette.requests import ClientDisconnect

from gladebook.errors import CallError

__all__ = ["clean_file_name", "upload"]


async def upload(request: Request, *, name: str, folder: Path) -> Path:
    """Write what was dropped under its own name into a folder of its own.

    Raises
    ------
    CallError
        Where nothing came, or not all of it.
    """
    file = folder / clean_file_name(name)
    size = 0
    try:
        with file.open("wb") as out:
            async for part in request.stream():
                size += len(part)
                out.write(part)
    except ClientDisconnect:
        raise CallError(f"{file.name}: did not arrive as a whole. Drop it in again.") from None
    if not size:
        raise CallError(f"{file.name}: is empty.")
    return file


def clean_file_name(name: str) -> str:
    """The last part of a name, such as no folder can be left with.

    Raises
    ------
    CallError
        Where nothing is left of it.
    """
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    last = "".join(c for c in last if c.isprintable() and c not in '<>:"|?*').strip(" .")[-120:]
    # A name may take 255 bytes on most disks, and a letter up to four.
    while len(last.encode("utf-8", "replace")) > 200:
        last = last[1:]
    if not last.encode("utf-8", "ignore").strip(b" ."):
        raise CallError("The file has no name.")
    return last.encode("utf-8", "ignore").decode("utf-8")
