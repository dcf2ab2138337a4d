"""Photos from above that lie on this computer: MBTiles, or a GeoTIFF with the extra ``raster``; cut into map tiles.

MBTiles 1.3 (the open standard of tiles in SQLite, from memory): tables `metadata` and `tiles`, rows counted from the
south. Tiles are those of the web map, 256 pixels each, EPSG:3857 (WebMercatorQuad of OGC 17-083r4).
"""

import sqlite3
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Protocol
from urllib.parse import quote

import numpy as np

from gladebook.errors import MissingExtra, UnreadableFile

__all__ = ["DEEPEST", "Photo", "open_photo", "picture_kind"]

DEEPEST: Final = 24  # zoom; a pixel of under a centimetre
_SIDE: Final = 256
_HALF_M: Final = 20_037_508.342789244  # half the equator of EPSG:3857, from its definition: pi times 6378137 m
_MOST_TILE_BYTES: Final = 5_000_000
_SIGNS: Final = {b"\x89PNG": "image/png", b"\xff\xd8\xff": "image/jpeg", b"RIFF": "image/webp"}


class _Source(Protocol):
    def tile(self, zoom: int, x: int, y: int) -> bytes | None: ...


@dataclass(frozen=True)
class Photo:
    """A photo that tiles can be cut from.

    Attributes
    ----------
    name : of its file.
    least_zoom, most_zoom : of its tiles.
    bounds_deg : west, south, east, north; None where not known.
    """

    name: str
    least_zoom: int
    most_zoom: int
    bounds_deg: tuple[float, float, float, float] | None
    _source: _Source

    def tile(self, zoom: int, x: int, y: int) -> bytes | None:
        """A tile as PNG, JPEG or WebP; x from the west, y from the north; None where there is no photo.

        Raises
        ------
        UnreadableFile
            Where the file cannot be read any more.
        """
        if not (0 <= zoom <= DEEPEST and 0 <= x < 2**zoom and 0 <= y < 2**zoom):
            return None
        return self._source.tile(zoom, x, y)


def picture_kind(tile: bytes) -> str | None:
    """The media type of a picture by its first bytes; None for what is no picture."""
    return next((kind for sign, kind in _SIGNS.items() if tile.startswith(sign)), None)


def open_photo(path: Path) -> Photo:
    """Open a photo.

    Raises
    ------
    UnreadableFile
        Where it is missing, or is none.
    MissingExtra
        Where it is a GeoTIFF and the extra is not installed.
    """
    if not path.is_file():
        raise UnreadableFile(f"{path.name}: there is no such file. Say where the photo is.")
    with path.open("rb") as file:
        start = file.read(16)
    if start.startswith(b"SQLite format 3"):
        return _mbtiles(path)
    if start[:4] in (b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+"):
        return _geotiff(path)
    raise UnreadableFile(f"{path.name}: is no photo that can be shown. Give MBTiles, or a GeoTIFF.")


@dataclass(frozen=True)
class _Tiles:
    path: Path

    def tile(self, zoom: int, x: int, y: int) -> bytes | None:
        row = (zoom, x, 2**zoom - 1 - y)
        asked = "SELECT tile_data FROM tiles WHERE zoom_level = ? AND tile_column = ? AND tile_row = ?"
        found = _ask(self.path, asked, row)
        data = found[0][0] if found else None
        if not isinstance(data, bytes) or len(data) > _MOST_TILE_BYTES:
            return None
        return data if picture_kind(data) else None


def _ask(path: Path, asked: str, values: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    where = f"file:{quote(str(path.resolve()))}?mode=ro&immutable=1"
    try:
        with closing(sqlite3.connect(where, uri=True)) as base:
            return base.execute(asked, values).fetchall()
    except sqlite3.Error:
        raise UnreadableFile(f"{path.name}: holds no map tiles that can be read. Save it again as MBTiles.") from None


def _mbtiles(path: Path) -> Photo:
    told = {str(name): str(value) for name, value in _ask(path, "SELECT name, value FROM metadata")}
    if told.get("format", "png") not in ("png", "jpg", "jpeg", "webp"):
        raise UnreadableFile(
            f'{path.name}: holds "{told["format"][:20]}" tiles, which are no photo. Save it as PNG or JPG.'
        )
    least, most = _ask(path, "SELECT min(zoom_level), max(zoom_level) FROM tiles")[0]
    if not isinstance(least, int) or not isinstance(most, int):
        raise UnreadableFile(f"{path.name}: holds no tile. Save it again.")
    return Photo(path.name, max(least, 0), min(most, DEEPEST), _bounds(told.get("bounds", "")), _Tiles(path))


def _bounds(text: str) -> tuple[float, float, float, float] | None:
    try:
        west, south, east, north = (float(part) for part in text.split(","))
    except ValueError:
        return None
    good = -180 <= west < east <= 180 and -90 <= south < north <= 90
    return (west, south, east, north) if good else None


@dataclass(frozen=True)
class _Raster:
    path: Path

    def tile(self, zoom: int, x: int, y: int) -> bytes | None:
        import rasterio
        from rasterio.enums import Resampling
        from rasterio.transform import from_bounds
        from rasterio.vrt import WarpedVRT

        size = 2 * _HALF_M / 2**zoom
        west, north = -_HALF_M + x * size, _HALF_M - y * size
        place = from_bounds(west, north - size, west + size, north, _SIDE, _SIDE)
        try:
            with (
                rasterio.open(self.path, driver="GTiff") as photo,
                WarpedVRT(
                    photo,
                    crs="EPSG:3857",
                    transform=place,
                    width=_SIDE,
                    height=_SIDE,
                    resampling=Resampling.bilinear,
                    add_alpha=photo.nodata is None and not _has_alpha(photo),
                ) as warped,
            ):
                bands = warped.read(indexes=_colours(photo.count))
                seen = warped.dataset_mask()
        except (rasterio.errors.RasterioError, ValueError, RuntimeError):
            raise UnreadableFile(f"{self.path.name}: cannot be read any more. Start the page again.") from None
        if not seen.any():
            return None
        return _png(np.concatenate([bands, seen[None]]))


def _has_alpha(photo: Any) -> bool:
    from rasterio.enums import ColorInterp

    return ColorInterp.alpha in photo.colorinterp


def _colours(count: int) -> list[int]:
    """Red, green and blue of a photo; a single band is grey."""
    return [1, 2, 3] if count >= 3 else [1, 1, 1]


def _png(pixels: Any) -> bytes:
    from rasterio.io import MemoryFile

    with MemoryFile() as memory:
        with memory.open(driver="PNG", width=_SIDE, height=_SIDE, count=4, dtype="uint8") as out:
            out.write(pixels)
        return bytes(memory.read())


def _geotiff(path: Path) -> Photo:
    try:
        import rasterio
        from rasterio.warp import transform_bounds
    except ImportError:
        raise MissingExtra('A GeoTIFF needs the extra "raster". Run: pip install "gladebook[raster]"') from None
    try:
        with rasterio.open(path, driver="GTiff") as photo:
            if photo.crs is None:
                raise UnreadableFile(f"{path.name}: does not say where on earth it lies. Save it with its system.")
            if photo.dtypes[0] != "uint8":
                raise UnreadableFile(
                    f"{path.name}: has {photo.dtypes[0]} values, not the 8-bit colours of a photo. Save it as 8-bit."
                )
            bounds = tuple(float(v) for v in transform_bounds(photo.crs, "EPSG:4326", *photo.bounds))
            metres = transform_bounds(photo.crs, "EPSG:3857", *photo.bounds)
            width = photo.width
    except rasterio.errors.RasterioError:
        raise UnreadableFile(f"{path.name}: is no GeoTIFF that can be read. Save it again.") from None
    pixel = (metres[2] - metres[0]) / max(width, 1)
    deepest = int(np.clip(np.ceil(np.log2(2 * _HALF_M / _SIDE / max(pixel, 1e-3))), 0, DEEPEST))
    west, south, east, north = bounds
    return Photo(path.name, 0, deepest, (west, south, east, north), _Raster(path))
