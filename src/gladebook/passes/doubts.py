"""What makes a recording doubtful, though it can be read: said, never mended."""

from datetime import UTC, datetime

import numpy as np
import numpy.typing as npt

from gladebook.notes import Note
from gladebook.passes.track import Track
from gladebook.units import MI_M

__all__ = ["track_doubts"]

Floats = npt.NDArray[np.float64]

_FAR_M = 40_000.0  # a day's work lies closer together
_EARTH_M = 6_371_008.8  # mean radius, IUGG; good enough to say how far a jump leads
_BEFORE = datetime(1995, 7, 17, tzinfo=UTC)  # GPS was declared fully operational (value from memory)
_ICE_DEG = -60.0  # no plot lies south of here, but swapped American coordinates do
_OFF_AFRICA_DEG = 0.5


def track_doubts(track: Track) -> tuple[Note, ...]:
    """Remarks on a track's places and times that a sprayer's work hardly has."""
    if not len(track):
        return ()
    return tuple(Note("doubtful", track.name, words) for words in (*_place(track), *_jump(track), *_dates(track)))


def _place(track: Track) -> list[str]:
    lat, lon = float(np.median(track.lat_deg)), float(np.median(track.lon_deg))
    if lat < _ICE_DEG:
        return [
            (
                f"it lies near {lat:.4f}, {lon:.4f}, in or near Antarctica. Latitude and longitude look swapped; "
                "check the columns."
            )
        ]
    if abs(lat) < _OFF_AFRICA_DEG and abs(lon) < _OFF_AFRICA_DEG:
        return [f"it lies near {lat:.4f}, {lon:.4f}, in the sea off Africa. Check that its figures are degrees."]
    return []


def _jump(track: Track) -> list[str]:
    """The longest step from point to point, where it leads farther than any day's work."""
    step_m = _steps_m(track.lon_deg, track.lat_deg)
    if not len(step_m) or float(step_m.max()) < _FAR_M:
        return []
    i = int(np.argmax(step_m))
    far = int((step_m >= _FAR_M).sum())
    if far > len(step_m) / 2 and far > 2:
        return [
            (
                f"most of its points lie more than {_FAR_M / MI_M:.0f} miles from the one before. Its figures look "
                "like metres or feet; export it in degrees of latitude and longitude."
            )
        ]
    more = f", and {far - 1} more such jump{'s' if far > 2 else ''}" if far > 1 else ""
    return [
        (
            f"it jumps {step_m[i] / MI_M:,.0f} miles between points {i + 1} and {i + 2}, to "
            f"{track.lat_deg[i + 1]:.4f}, {track.lon_deg[i + 1]:.4f}{more}."
        )
    ]


def _dates(track: Track) -> list[str]:
    if track.clock != "utc":
        return []
    early = track.time_s < _BEFORE.timestamp()
    if not early.any():
        return []
    first = datetime.fromtimestamp(float(track.time_s[np.argmax(early)]), tz=UTC)
    return [
        (
            f"{int(early.sum())} of {len(track)} points are dated before 1995, the first {first:%Y-%m-%d}. A receiver "
            "that does not yet know the date writes that; its times may be wrong."
        )
    ]


def _steps_m(lon_deg: Floats, lat_deg: Floats) -> Floats:
    """Lengths from point to point on a sphere by the haversine formula: within 0.6 %."""
    lon, lat = np.radians(lon_deg), np.radians(lat_deg)
    half = np.sin(np.diff(lat) / 2) ** 2 + np.cos(lat[:-1]) * np.cos(lat[1:]) * np.sin(np.diff(lon) / 2) ** 2
    steps: Floats = 2 * _EARTH_M * np.arcsin(np.sqrt(np.minimum(half, 1.0)))
    return steps
