"""Where answers, words and progress go: answers to standard output, the rest to standard error."""

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

__all__ = ["answer", "say", "working"]


def answer(text: str, *, out: Path | None) -> None:
    """Put an answer on standard output, or whole into a file."""
    if out is None:
        sys.stdout.write(text)
        sys.stdout.flush()
        return
    from gladebook.io.write import write_text

    write_text(out, text)
    say([f"Written: {out}"])


def say(sentences: Sequence[str], *, title: str = "") -> None:
    """Put sentences on standard error, one a line, under a title."""
    if title and sentences:
        print(f"\n{title}", file=sys.stderr)
    for sentence in sentences:
        print(f"- {sentence}" if title else sentence, file=sys.stderr)


@contextmanager
def working() -> Iterator[Callable[[str, float], None] | None]:
    """Show a bar on standard error while long work goes on; nothing where that is no terminal."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TaskID, TextColumn

    with Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        TextColumn("{task.percentage:3.0f} %"),
        console=Console(stderr=True),
        transient=True,
    ) as bar:
        tasks: dict[str, TaskID] = {}

        def tell(what: str, share: float) -> None:
            if what not in tasks:
                tasks[what] = bar.add_task(what, total=1.0)
            bar.update(tasks[what], completed=share)

        yield tell
