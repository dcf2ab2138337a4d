"""A track for the page's slider: where it went and when, thinned out."""

import math
from datetime import UTC, datetime
from typing import Any

from gladebook.passes.track import Track

__all__ = ["track_document"]

_MOST_POINTS = 2_000


def track_document(track: Track) -> dict[str, Any]:
    """Points with their seconds since the first, at most 2,000 of them, and what the recording tells."""
    step = max(1, math.ceil(len(track) / _MOST_POINTS))
    picked = sorted({*range(0, len(track), step), len(track) - 1})
    times = track.time_s.tolist()
    known = [t for t in times if math.isfinite(t)]
    first, last = (min(known), max(known)) if known else (None, None)
    return {
        "name": track.name,
        "points": len(track),
        "clock": track.clock,
        "start": None if first is None else _moment(first, track),
        "end": None if last is None else _moment(last, track),
        "seconds": None if first is None or last is None else last - first,
        "width_recorded": bool((track.width_m > 0).any()),
        "boom_recorded": bool((track.boom_on != -1).any()),
        "way": [
            [
                float(track.lat_deg[i]),
                float(track.lon_deg[i]),
                None if first is None or not math.isfinite(times[i]) else times[i] - first,
            ]
            for i in picked
        ],
    }


def _moment(seconds: float, track: Track) -> str:
    moment = datetime.fromtimestamp(seconds, tz=UTC)
    return moment.isoformat() if track.clock == "utc" else moment.replace(tzinfo=None).isoformat()
