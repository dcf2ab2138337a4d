"""What the server holds between two questions: tracks that were dropped in, and answers that may yet be kept."""

import secrets
import tempfile
import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from starlette.requests import Request

from gladebook.errors import CallError
from gladebook.io.photo import Photo

__all__ = ["MOST_TRACKS", "Shelf", "shelf_of"]

MOST_TRACKS: Final = 50
_MOST_ANSWERS: Final = 8
Keeper = Callable[[str], str]


@dataclass
class Shelf:
    """Of one server.

    Attributes
    ----------
    path : the property file.
    photo : a photo on this computer, where one was named.
    """

    path: Path
    photo: Photo | None = None
    _folder: tempfile.TemporaryDirectory[str] | None = None
    _tracks: OrderedDict[str, Path] = field(default_factory=OrderedDict)
    _answers: OrderedDict[str, Keeper] = field(default_factory=OrderedDict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def place(self) -> tuple[str, Path]:
        """A name for a track, and a folder of its own; gone when the server ends."""
        with self._lock:
            if self._folder is None:
                self._folder = tempfile.TemporaryDirectory(prefix="gladebook-")
            token = secrets.token_urlsafe(16)
            folder = Path(self._folder.name) / token
            folder.mkdir()
        return token, folder

    def put_track(self, token: str, file: Path) -> None:
        """Hold a track; beyond the fiftieth the oldest goes."""
        with self._lock:
            self._tracks[token] = file
            while len(self._tracks) > MOST_TRACKS:
                _, oldest = self._tracks.popitem(last=False)
                oldest.unlink(missing_ok=True)

    def track(self, token: str) -> Path:
        """A track that was dropped in.

        Raises
        ------
        CallError
            Where it is not here.
        """
        with self._lock:
            found = self._tracks.get(token)
        if found is None:
            raise CallError("That track is not here any more. Drop it in again.")
        return found

    def put_answer(self, keeper: Keeper) -> str:
        """Hold an answer that may be kept under a name; beyond the eighth the oldest goes."""
        token = secrets.token_urlsafe(16)
        with self._lock:
            self._answers[token] = keeper
            while len(self._answers) > _MOST_ANSWERS:
                self._answers.popitem(last=False)
        return token

    def answer(self, token: str) -> Keeper:
        """What keeps an answer.

        Raises
        ------
        CallError
            Where it is not here.
        """
        with self._lock:
            found = self._answers.get(token)
        if found is None:
            raise CallError("That answer is not here any more. Work it out again, then save it.")
        return found

    def close(self) -> None:
        """Throw all tracks away."""
        if self._folder is not None:
            self._folder.cleanup()


def shelf_of(request: Request) -> Shelf:
    """The shelf of the server that was asked."""
    shelf: Shelf = request.app.state.shelf
    return shelf
