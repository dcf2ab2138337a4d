"""One of several processes that change the same property file: ``python -m tests.io.property.writer FILE COUNT WHO``.

It counts in a record up by one and adds a row of its own in each change. Every other change is made by a connection
of its own, so that files are opened and closed while others write.
"""

import sqlite3
import sys
from contextlib import nullcontext
from pathlib import Path

from gladebook.io.property.change import changing
from gladebook.io.property.open import connected
from gladebook.io.property.store import add_kept, kept_in

_APART = 5


def count_up(base: sqlite3.Connection, who: str) -> None:
    with changing(base, f"{who} counted") as pen:
        record = next(k for k in kept_in(base, "records") if k.name == "count")
        pen.change("records", record.uid, content=f'{{"count": {record.content["count"] + 1}}}')
        add_kept(pen, "records", name=who, content={"count": record.content["count"] + 1})


def main() -> None:
    path, count, who = Path(sys.argv[1]), int(sys.argv[2]), sys.argv[3]
    if who == "reader":
        for _ in range(count):
            with connected(path, write=False) as base:
                kept_in(base, "records")
        return
    for number in range(0, count, _APART):
        with connected(path) as kept_open:
            for k in range(number, min(number + _APART, count)):
                with nullcontext(kept_open) if k % 2 else connected(path) as base:
                    count_up(base, who)


if __name__ == "__main__":
    main()
