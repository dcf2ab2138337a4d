"""Long work that tells how far it is, and stops where the browser goes away."""

import asyncio
import json
import threading
from collections.abc import AsyncGenerator, Callable
from typing import Any

from gladebook.errors import GladebookError
from gladebook.web.told import BROKEN, told

__all__ = ["Show", "lines_of"]

Show = Callable[[dict[str, Any]], None]


async def lines_of(work: Callable[[Show], dict[str, Any]], *, gone: threading.Event) -> AsyncGenerator[str, None]:
    """Run long work beside the server, and give lines of JSON as it tells them.

    Parameters
    ----------
    work
        Called with what shows a line; what it returns is the last one, under "answer", and an error that is ours
        is under "error".
    gone
        Is set once nobody reads any more; the work looks at it, and stops.
    """
    lines: asyncio.Queue[dict[str, Any] | None] = asyncio.Queue()
    loop = asyncio.get_running_loop()

    def put(line: dict[str, Any] | None) -> None:
        loop.call_soon_threadsafe(lines.put_nowait, line)

    def run() -> None:
        try:
            put({"answer": work(put)})
        except GladebookError as error:
            put({"error": told(error)})
        except Exception:
            put({"error": BROKEN})
            raise
        finally:
            put(None)

    task = asyncio.create_task(asyncio.to_thread(run))
    try:
        while (line := await lines.get()) is not None:
            yield json.dumps(line) + "\n"
        await task
    finally:
        gone.set()
