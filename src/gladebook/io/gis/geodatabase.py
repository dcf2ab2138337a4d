"""File geodatabases, folders of tables, read by GDAL after a look at the length of each table.

Layouts are as others found them out by comparing files, as no specification is published: a table
states how many rows it has (byte 4) and how long it is (byte 24); the list of its rows beside it, how many
blocks of 1,024 places (byte 4) and how many places (byte 8) it has, and how many bytes one takes (byte 12).
"""

import struct
from pathlib import Path

from gladebook.errors import UnreadableFile
from gladebook.io.gis.gdal import count_rows, known_crs, layers_of, read_layer, rows_of
from gladebook.io.layers import LayerFound, kind_from
from gladebook.io.limits import Limits, beyond
from gladebook.io.rows import Rows

__all__ = ["FIRST_TABLE", "chosen_layer", "layers_in", "read_rows"]

FIRST_TABLE = "a00000001.gdbtable"
_KNOWN = 3  # the version whose lengths are known; a later one is left to GDAL's own checks
_HEAD = 40
_BLOCK_ROWS = 1024


def read_rows(path: Path, *, source: str, layer: str | None, limits: Limits) -> Rows:
    """Read the features of the layer that holds areas.

    Parameters
    ----------
    path
        The folder.
    source
        The name for messages: the folder's own, or that of the zip it came in.
    layer
        The layer to read, where several may hold areas.
    limits
        How much it may hold.

    Raises
    ------
    UnreadableFile
        Where a table is missing, broken or cut short, there is no such layer, or several and `layer` chooses none.
    """
    refusal = _refusal(source)
    layers = _layers(path, source=source, refusal=refusal, limits=limits)
    name = chosen_layer(layers, source=source, wanted=layer)
    read = read_layer(path, driver="OpenFileGDB", refusal=refusal, layer=name)
    rows, notes = rows_of(read, source=source, limits=limits)
    return Rows(source=source, rows=rows, crs=known_crs(read.crs), notes=notes)


def layers_in(path: Path, *, source: str, limits: Limits) -> list[LayerFound]:
    """The layers with shapes, by what these are, with how many rows each has.

    Raises
    ------
    UnreadableFile
        Where a table is missing, broken or cut short.
    """
    refusal = _refusal(source)
    layers = [(name, kind) for name, kind in _layers(path, source=source, refusal=refusal, limits=limits) if kind]
    counts = count_rows(path, [name for name, _ in layers], refusal=refusal)
    return [LayerFound(name, kind_from(kind), count) for (name, kind), count in zip(layers, counts, strict=True)]


def _refusal(source: str) -> UnreadableFile:
    return UnreadableFile(
        f"{source}: it cannot be read as file geodatabase; a table in it is missing, broken or cut short. "
        "Copy or export the whole folder again."
    )


def _layers(path: Path, *, source: str, refusal: UnreadableFile, limits: Limits) -> list[tuple[str, str]]:
    _check_tables(path, source=source, refusal=refusal, limits=limits)
    layers = layers_of(path, refusal=refusal)
    if len(layers) > limits.layers:
        raise beyond(
            source,
            f"has {len(layers):,} layers, and at most {limits.layers:,} are read",
            limit="layers",
            limits=limits,
            instead="Export the layer that holds your plots",
        )
    return layers


def chosen_layer(layers: list[tuple[str, str]], *, source: str, wanted: str | None) -> str:
    """The layer to read, of names and kinds of shapes: the one asked for, or the only one that may hold areas.

    Raises
    ------
    UnreadableFile
        Where there is none, or several.
    """
    names = [name for name, kind in layers if kind]
    if wanted is not None:
        if wanted not in names:
            raise UnreadableFile(f'{source}: has no layer "{wanted}". Its layers: {_listed(names)}.')
        return wanted
    kept = [name for name, kind in layers if kind and kind_from(kind) == "boundaries"] or names
    if not kept:
        raise UnreadableFile(
            f"{source}: holds no layer with shapes in it. Draw at least one plot, or pick another file."
        )
    if len(kept) > 1:
        raise UnreadableFile(
            f"{source}: has {len(kept)} layers that may hold areas ({_listed(kept)}). Choose with --layer."
        )
    return kept[0]


def _listed(names: list[str]) -> str:
    return ", ".join(name[:60] for name in names[:12]) or "none"


def _check_tables(path: Path, *, source: str, refusal: UnreadableFile, limits: Limits) -> None:
    parts = {part.name.lower(): part for part in path.iterdir() if part.is_file()}
    tables = [name for name in parts if name.endswith(".gdbtable")]
    if FIRST_TABLE not in tables:
        raise refusal
    if sum(part.stat().st_size for part in parts.values()) > limits.file_bytes:
        raise beyond(
            source,
            f"is larger than {limits.file_bytes / 1e9:g} GB",
            limit="file_bytes",
            limits=limits,
            instead="Export the layer that holds your plots",
        )
    for name in tables:
        listed = parts.get(f"{name.removesuffix('table')}tablx")
        size, size_listed = parts[name].stat().st_size, 0 if listed is None else listed.stat().st_size
        head = _start_of(parts[name])
        if size < _HEAD or len(head) < _HEAD:
            raise refusal
        version, rows = struct.unpack_from("<ii", head)
        if version != _KNOWN:
            continue
        (whole,) = struct.unpack_from("<q", head, 24)
        if size < whole or rows < 0:
            raise refusal
        if rows:
            blocks, places, place_bytes = _blocks(_start_of(listed)) if listed is not None else (0, 0, 0)
            # GDAL takes the smaller of the two counts, and leaves the other rows out.
            if not blocks or places < rows or size_listed < 16 + blocks * _BLOCK_ROWS * place_bytes:
                raise refusal


def _blocks(head: bytes) -> tuple[int, int, int]:
    """Blocks, rows with those that were taken out, and bytes for each, as the start of a list says."""
    if len(head) < 16:
        return 0, 0, 0
    _, blocks, places, place_bytes = struct.unpack_from("<4i", head)
    return max(blocks, 0), places, place_bytes if place_bytes in (4, 5, 6) else _HEAD


def _start_of(part: Path) -> bytes:
    with part.open("rb") as file:
        return file.read(_HEAD)
