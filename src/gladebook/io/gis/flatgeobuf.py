"""FlatGeobuf, read by GDAL after a walk through its lengths (the published specification, version 3).

Eight bytes of magic, the header behind its length, the index that the header states, then each feature
behind its length. GDAL would read a file that is cut between two features without a word.
"""

import struct
from pathlib import Path

from gladebook.errors import UnreadableFile
from gladebook.io.gis.gdal import known_crs, read_layer, rows_of
from gladebook.io.limits import Limits, beyond
from gladebook.io.rows import Rows

__all__ = ["MAGIC", "read_rows"]

MAGIC = b"fgb\x03fgb"
_HEAD = 12  # magic, its last byte a patch number that means nothing, and the header's length
_LARGEST_HEADER = 10_000_000
_FEATURES_COUNT, _NODE_SIZE = 8, 9  # places of fields in the header's table
_DEFAULT_NODE_SIZE = 16
_NODE_BYTES = 40
_MOST = 2**40


def read_rows(path: Path, *, source: str, limits: Limits) -> Rows:
    """Read the features with their fields, in the file's order.

    Raises
    ------
    UnreadableFile
        Where the file is broken or cut short.
    """
    refusal = UnreadableFile(f"{source}: is no whole FlatGeobuf; it is broken or cut short. Copy or export it again.")
    data = path.read_bytes()
    count = _count_features(data)
    if count is None:
        raise refusal
    if count > limits.rows:
        raise beyond(
            source,
            f"has {count:,} features, and at most {limits.rows:,} are read",
            limit="rows",
            limits=limits,
            instead="Give the part that holds your plots",
        )
    if not count:
        raise UnreadableFile(f"{source}: holds no feature at all. Draw at least one plot, or pick another file.")
    layer = read_layer(path, driver="FlatGeobuf", refusal=refusal)
    if len(layer.blobs) != count:
        raise refusal
    rows, notes = rows_of(layer, source=source, limits=limits)
    return Rows(source=source, rows=rows, crs=known_crs(layer.crs), notes=notes)


def _count_features(data: bytes) -> int | None:
    """How many features the file holds; None where lengths and counts do not fit it."""
    if len(data) < _HEAD or not data.startswith(MAGIC):
        return None
    (length,) = struct.unpack_from("<I", data, 8)
    if not 8 <= length <= min(_LARGEST_HEADER, len(data) - _HEAD):
        return None
    try:
        stated = _field(data, _FEATURES_COUNT, "Q", 0)
        node_size = _field(data, _NODE_SIZE, "H", _DEFAULT_NODE_SIZE)
    except struct.error:
        return None
    if stated > _MOST or node_size == 1:
        return None
    at, found = _HEAD + length + _index_bytes(stated, node_size), 0
    while at + 4 <= len(data):
        at += 4 + int(struct.unpack_from("<I", data, at)[0])
        found += 1
    return found if at == len(data) and stated in (0, found) else None


def _field(data: bytes, place: int, form: str, default: int) -> int:
    """A number of the header's table, by the layout of FlatBuffers: a table points back to the places of its fields."""
    table = _HEAD + int(struct.unpack_from("<I", data, _HEAD)[0])
    places = table - int(struct.unpack_from("<i", data, table)[0])
    if places < 0:
        raise struct.error
    size = int(struct.unpack_from("<H", data, places)[0])
    if size < 4 + 2 * (place + 1):
        return default
    offset = int(struct.unpack_from("<H", data, places + 4 + 2 * place)[0])
    return int(struct.unpack_from(f"<{form}", data, table + offset)[0]) if offset else default


def _index_bytes(count: int, node_size: int) -> int:
    """The size of the packed tree over all features."""
    if not count or not node_size:
        return 0
    nodes, level = count, -(-count // node_size)
    while level > 1:
        nodes, level = nodes + level, -(-level // node_size)
    return (nodes + 1) * _NODE_BYTES  # one feature has a root above it too
