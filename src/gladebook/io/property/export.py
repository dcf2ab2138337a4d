"""A property written for other programs: a new folder with a file for each kind of thing, whatever the format.

So each file holds one kind of thing, and every program, and our own door, can read it as it is. The folder is written
beside its name and renamed once all of it is there and on the disk. The property file is read through SQLite alone;
the formats get what was read, never the file.
"""

import os
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from uuid import uuid4

from gladebook.errors import CallError, OutputError, PropertyError
from gladebook.io.export import geojson, geopackage, gpx, kml, shapefile, tables
from gladebook.io.export.gather import gathered
from gladebook.io.export.held import Held
from gladebook.io.property.open import connected

__all__ = ["FORMATS", "export_property"]

FORMATS: dict[str, str] = {
    "geojson": "GeoJSON for map programs: a file for each kind of thing, and one for each track, point by point",
    "gpkg": "a GeoPackage for map programs, with all that the property holds but undo",
    "shapefile": "shapefiles for map programs, each in a zip: one for each kind of thing, tracks as lines",
    "kml": "KML for map programs and phones: a file for each kind of thing, tracks as lines",
    "gpx": "GPX for receivers and phones: a file for each kind of thing, and one for each track with its times",
    "csv": "tables: a file for each kind of thing with shapes as well-known text, and one for each track",
}
_WRITERS: dict[str, Callable[[Held, Path], list[str]]] = {
    "geojson": geojson.write,
    "shapefile": shapefile.write,
    "kml": kml.write,
    "gpx": gpx.write,
    "csv": tables.write,
}
_ENDINGS = (".geojson", ".json", ".gpkg", ".shp", ".zip", ".kml", ".kmz", ".gpx", ".csv")
_SQLITE_BESIDE = ("-wal", "-shm", "-journal")


def export_property(path: str | Path, out: str | Path, *, format: str) -> tuple[str, ...]:  # noqa: A002 - as users say
    """Write a property for other programs into a new folder, and say what the format cannot hold.

    Parameters
    ----------
    path
        The property file.
    out
        The folder to make; there must be nothing of that name.
    format
        One of `FORMATS`.

    Returns
    -------
    A sentence, with counts, for each thing that the property has and the format cannot hold; empty where it holds all.

    Raises
    ------
    PropertyError
        Where the property cannot be read, or holds nothing yet.
    OutputError
        Where there is something of that name already, or it cannot be written.
    CallError
        Where the format is not known, or `out` is the name of a file.
    """
    path, out = Path(path), Path(out)
    if format not in FORMATS:
        raise CallError(f'--format: "{format[:20]}" is not known. Give one of {", ".join(FORMATS)}.')
    with connected(path, write=False) as base:
        _refuse_out(out, path=path)
        with _new_folder(out) as folder:
            said = _written(base, folder, path=path, format_name=format)
    return tuple(said)


def _written(base: sqlite3.Connection, folder: Path, *, path: Path, format_name: str) -> list[str]:
    if format_name == "gpkg":
        return geopackage.write(base, folder / f"{path.stem}.gpkg")
    base.execute("BEGIN")  # so that all of it is of one moment
    held, lost = gathered(base)
    base.execute("COMMIT")
    if not (held.layers or held.tracks or any(held.tables.values())):
        raise PropertyError(f"{path.name}: holds no plots and no applications yet. Add some before you export.")
    said = [*_WRITERS[format_name](held, folder), *tables.write_tables(held, folder), *lost]
    return [*said, *_walked_words(held, format_name=format_name)]


def _walked_words(held: Held, *, format_name: str) -> list[str]:
    """That a boundary was walked makes its acres less sure, and is read back from GPX alone."""
    walked = sum(area.walked for layer in held.layers for area in layer.areas)
    if not walked or format_name == "gpx":
        return []
    who = f"{walked} boundary that was walked comes" if walked == 1 else f"{walked} boundaries that were walked come"
    return [f"{who} back as if drawn: say --accuracy when you measure there."]


def _refuse_out(out: Path, *, path: Path) -> None:
    """Refuse a name that is taken, or that would do harm."""
    name = out.name or str(out)
    try:
        here = path.resolve()
        if out.resolve() in [here.with_name(here.name + end) for end in _SQLITE_BESIDE]:
            raise OutputError(f"{name}: is a name that the property file needs for itself. Choose another name.")
        if os.path.lexists(out):
            is_it = out.exists() and out.samefile(path)
            what = "is the property file itself" if is_it else "is there already"
            raise OutputError(f"{name}: {what}. Nothing was written; choose another name.")
        if out.suffix.lower() in _ENDINGS:
            raise CallError(f"{name}: an export is a folder with a file for each kind of thing. Name it {out.stem}.")
        if not out.parent.is_dir():
            raise OutputError(f"{name}: the folder {out.parent} is not there. Make it first, or choose another place.")
    except (OutputError, CallError):
        raise
    except OSError as error:
        raise _not_written(out, error) from None
    except ValueError:
        raise OutputError(f"{name}: is no name that a file can have. Name another.") from None


def _not_written(out: Path, error: OSError) -> OutputError:
    why = error.strerror or type(error).__name__
    return OutputError(f"{out.name}: cannot be written ({why}), and nothing of it was left. Choose another place.")


@contextmanager
def _new_folder(out: Path) -> Iterator[Path]:
    """A folder that gets its name at the end, or goes."""
    beside = out.parent / f".{out.name[:40]}-{uuid4().hex[:12]}.part"
    try:
        beside.mkdir()
        yield beside
        if os.path.lexists(out):
            raise OutputError(f"{out.name}: is there already. Nothing was written; choose another name.")
        beside.rename(out)
    except OSError as error:
        if isinstance(error, OutputError):
            raise
        raise _not_written(out, error) from None
    finally:
        shutil.rmtree(beside, ignore_errors=True)
