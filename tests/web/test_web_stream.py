"""Long work in lines: told as it goes, stopped where nobody reads any more, broken without a word of the inside."""

import asyncio
import json
import threading
import time
from typing import Any

import pytest

from gladebook.errors import Stopped, TrackError
from gladebook.web.stream import Show, lines_of
from gladebook.web.told import BROKEN


def all_of(work: Any) -> list[Any]:
    async def read() -> list[Any]:
        return [json.loads(line) async for line in lines_of(work, gone=threading.Event())]

    return asyncio.run(read())


def test_lines_come_in_order_and_the_answer_is_last():
    """What is shown comes as it is shown; the last line is the answer."""

    def work(show: Show) -> dict[str, Any]:
        for share in (0.2, 0.7):
            show({"what": "Driving", "share": share})
        return {"words": ["done"]}

    assert all_of(work) == [
        {"what": "Driving", "share": 0.2},
        {"what": "Driving", "share": 0.7},
        {"answer": {"words": ["done"]}},
    ]


def test_an_error_of_ours_is_told_and_another_is_not():
    """Ours is one sentence; of any other only that something went wrong, and the server hears of it."""

    def ours(_show: Show) -> dict[str, Any]:
        raise TrackError("drive.csv: has no points.")

    def other(_show: Show) -> dict[str, Any]:
        raise ZeroDivisionError("inside")

    assert all_of(ours) == [{"error": "drive.csv: has no points."}]
    told: list[Any] = []

    async def read() -> None:
        async for line in lines_of(other, gone=threading.Event()):
            told.append(json.loads(line))  # noqa: PERF401 - what came before the error counts

    with pytest.raises(ZeroDivisionError):
        asyncio.run(read())
    assert told == [{"error": BROKEN}]


def test_work_stops_where_nobody_reads_any_more():
    """The reader goes after the first line: the work is told, and ends long before it would have."""
    gone, ended = threading.Event(), threading.Event()

    def work(show: Show) -> dict[str, Any]:
        try:
            for number in range(10_000):
                if gone.is_set():
                    raise Stopped("Stopped; nothing was written.")
                show({"share": number / 10_000})
                time.sleep(0.005)
        finally:
            ended.set()
        return {}

    async def read_one() -> None:
        lines = lines_of(work, gone=gone)
        async for _ in lines:
            break
        await lines.aclose()

    asyncio.run(asyncio.wait_for(read_one(), timeout=10))
    assert ended.wait(5)
    assert gone.is_set()
