"""The photo from above: MBTiles as its specification counts rows, GeoTIFF where the formula of the tiles says."""

import math
import sqlite3
import sys
from contextlib import closing
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from gladebook.errors import MissingExtra, UnreadableFile
from gladebook.io.photo import open_photo, picture_kind
from tests.web.conftest import Page, good, page_of

PNG = (
    b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00\x00\x01\x00\x00\x00\x01\x08\x06\x00\x00\x00\x1f\x15\xc4\x89"
    b"\x00\x00\x00\rIDATx\x9cc\xf8\xcf\xc0\xf0\x1f\x00\x05\x00\x01\xff\x89\x99=\x1d\x00\x00\x00\x00IEND\xaeB`\x82"
)


def tile_of(lon_deg: float, lat_deg: float, zoom: int) -> tuple[float, float]:
    """Tile column and row of a place, as fractions: WebMercatorQuad of OGC 17-083r4 (formula from memory)."""
    lat = math.radians(lat_deg)
    return (
        (lon_deg + 180) / 360 * 2**zoom,
        (1 - math.asinh(math.tan(lat)) / math.pi) / 2 * 2**zoom,
    )


def mbtiles(path: Path, *, tiles: dict[tuple[int, int, int], bytes], **metadata: str) -> Path:
    with closing(sqlite3.connect(path)) as base, base:
        base.execute("CREATE TABLE metadata (name TEXT, value TEXT)")
        base.execute("CREATE TABLE tiles (zoom_level INTEGER, tile_column INTEGER, tile_row INTEGER, tile_data BLOB)")
        base.executemany("INSERT INTO metadata VALUES (?, ?)", metadata.items())
        base.executemany("INSERT INTO tiles VALUES (?, ?, ?, ?)", [(*k, v) for k, v in tiles.items()])
    return path


def test_rows_of_mbtiles_are_counted_from_the_south(tmp_path: Path, page: Page):
    """MBTiles 1.3 counts rows as TMS does (from memory): of four tiles at zoom 1 the north-west one is row 1."""
    photo = open_photo(mbtiles(tmp_path / "p.mbtiles", tiles={(1, 0, 1): PNG}, format="png", bounds="-90,30,-80,40"))
    assert photo.tile(1, 0, 0) == PNG
    assert photo.tile(1, 0, 1) is None
    assert (photo.least_zoom, photo.most_zoom, photo.bounds_deg) == (1, 1, (-90.0, 30.0, -80.0, 40.0))
    client = page_of(page.path, photo=photo).client
    answer = client.get("/api/photo/1/0/0")
    assert (answer.status_code, answer.headers["content-type"], answer.content) == (200, "image/png", PNG)
    for missing in ("1/0/1", "9/0/0", "1/5/5", "1/-1/0", "99/0/0"):
        assert client.get(f"/api/photo/{missing}").status_code == 204
    told = good(client.get("/api/photo"))
    assert (told["local"], told["url"], told["most_zoom"]) == (True, "/api/photo/{z}/{x}/{y}", 1)


def test_what_is_no_picture_is_never_given_out(tmp_path: Path):
    """A tile that holds markup, text or a number is left out, whatever the file says of itself."""
    tiles: Any = {(1, 0, 0): b"<html><script>", (1, 0, 1): "text", (1, 1, 0): 7, (1, 1, 1): None}
    photo = open_photo(mbtiles(tmp_path / "p.mbtiles", tiles=tiles, format="png"))
    assert [photo.tile(1, x, y) for x in (0, 1) for y in (0, 1)] == [None] * 4
    assert picture_kind(b"GIF89a") is None


@pytest.mark.parametrize(
    ("tiles", "metadata"), [({}, {"format": "png"}), ({(1, 0, 0): PNG}, {"format": "pbf"})], ids=["empty", "vector"]
)
def test_tiles_that_are_no_photo_are_refused(tmp_path: Path, tiles: Any, metadata: dict[str, str]):
    """No tile at all, or vector tiles: one sentence."""
    with pytest.raises(UnreadableFile):
        open_photo(mbtiles(tmp_path / "p.mbtiles", tiles=tiles, **metadata))


@pytest.mark.parametrize("content", [b"", b"SQLite format 3\x00 and no more", b"II*\x00 and no more", b"JPEG"])
def test_a_broken_photo_is_refused(tmp_path: Path, content: bytes):
    """Empty, cut short, or another kind of file: one sentence, which names it."""
    path = tmp_path / "photo.tif"
    path.write_bytes(content)
    with pytest.raises(UnreadableFile, match=r"photo\.tif"):
        open_photo(path)


def geotiff(path: Path, pixels: Any, **profile: Any) -> Path:
    import rasterio
    from rasterio.transform import from_bounds

    bands, height, width = pixels.shape
    place = from_bounds(-86.51, 32.39, -86.49, 32.41, width, height)
    known = {"driver": "GTiff", "dtype": pixels.dtype, "count": bands, "transform": place, "crs": "EPSG:4326"}
    with rasterio.open(path, "w", height=height, width=width, **{**known, **profile}) as out:
        out.write(pixels)
    return path


def test_a_geotiff_lies_where_its_coordinates_say(tmp_path: Path):
    """Red west of the middle and blue east of it: in the tile the colour turns at the meridian's pixel, to a pixel."""
    from rasterio.io import MemoryFile

    pixels = np.zeros((3, 1000, 1000), dtype=np.uint8)
    pixels[0, :, :500] = 200
    pixels[2, :, 500:] = 200
    photo = open_photo(geotiff(tmp_path / "p.tif", pixels))
    zoom = 16
    column, row = tile_of(-86.5, 32.4, zoom)
    data = photo.tile(zoom, int(column), int(row))
    assert data is not None
    with MemoryFile(data) as memory, memory.open() as tile:
        shown = tile.read()
    line = shown[:, int(row % 1 * 256)]
    turns = int(np.flatnonzero(line[2] > line[0])[0])
    assert turns == pytest.approx(column % 1 * 256, abs=1.5)
    assert photo.tile(zoom, int(column) + 40, int(row)) is None
    assert photo.bounds_deg == pytest.approx((-86.51, 32.39, -86.49, 32.41), abs=1e-6)
    # A thousand pixels over 0.02 degrees: 2.2 m each on the map, a little finer than zoom 16's 2.39 m.
    assert photo.most_zoom == 17


def test_a_grey_geotiff_is_shown_and_one_without_a_place_or_of_heights_is_refused(tmp_path: Path):
    """One band is grey; a file that does not say where it lies, or holds no 8-bit colours, is told."""
    grey = np.full((1, 200, 200), 90, dtype=np.uint8)
    photo = open_photo(geotiff(tmp_path / "grey.tif", grey))
    column, row = tile_of(-86.5, 32.4, 14)
    assert (photo.tile(14, int(column), int(row)) or b"").startswith(b"\x89PNG")
    with pytest.raises(UnreadableFile, match="where on earth"):
        open_photo(geotiff(tmp_path / "nowhere.tif", grey, crs=None))
    with pytest.raises(UnreadableFile, match="float32"):
        open_photo(geotiff(tmp_path / "heights.tif", np.zeros((1, 9, 9), dtype=np.float32)))


def test_a_geotiff_without_the_extra_says_what_to_install(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """Where rasterio is not installed, one sentence names the extra; MBTiles need none."""
    file = geotiff(tmp_path / "p.tif", np.zeros((3, 9, 9), dtype=np.uint8))
    monkeypatch.setitem(sys.modules, "rasterio", None)
    with pytest.raises(MissingExtra, match=r"gladebook\[raster\]"):
        open_photo(file)
    assert open_photo(mbtiles(tmp_path / "p.mbtiles", tiles={(1, 0, 1): PNG}, format="png")).tile(1, 0, 0) == PNG


def test_without_a_photo_the_page_is_told_of_public_domain_tiles(page: Page):
    """The one host of the page's policy, with its credit; nothing is fetched before the photo is switched on."""
    told = page.ask("photo")
    assert told["local"] is False
    assert told["url"].startswith("https://basemap.nationalmap.gov/")
    assert "public domain" in told["credit"]
    assert page.client.get("/api/photo/1/0/0").status_code == 204
