"""Weather from a file: the right row, the rain after it, and what is refused."""

import math
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from gladebook.errors import UnreadableFile
from gladebook.io.weather import read_weather
from gladebook.units import IN_M, MPH_MPS

AT = datetime.fromisoformat("2026-11-20T14:10")
TABLE = """time,wind_mph,gust_mph,temperature_f,humidity_pct,rain_in,sky
2026-11-20T05:00,2,3,33.8,95,0,clear
2026-11-20T13:00,4,6,55,50,0,clear
2026-11-20T14:00,6,9,59,45,0,cloudy
2026-11-20T18:10,3,4,50,60,0.25,cloudy
2026-11-20T19:00,3,4,49,60,0.25,cloudy
"""


def weather(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "weather.csv"
    path.write_text(text)
    return path


def test_the_nearest_row_counts_and_rain_is_looked_for_after_it(tmp_path: Path) -> None:
    """At 14:10 the row of 14:00; rain in 4 h, half an inch; the coldest of 24 hours 33.8 F, which is 1 C."""
    found = read_weather(weather(tmp_path, TABLE), at=AT)
    reading = found.reading
    assert reading.wind_mps == pytest.approx(6 * MPH_MPS)
    assert reading.gust_mps == pytest.approx(9 * MPH_MPS)
    assert reading.temperature_c == pytest.approx(15.0)
    assert reading.humidity == pytest.approx(0.45)
    assert reading.sky == "cloudy"
    assert reading.rain_in_s == pytest.approx(4 * 3600)
    assert reading.rain_m == pytest.approx(0.5 * IN_M)
    assert reading.night_low_c == pytest.approx(1.0)
    assert reading.measured is None  # a file does not say where the wind was measured
    assert "row of 2026-11-20 14:00" in found.notices[0]


def test_no_rain_reaches_only_as_far_as_the_file(tmp_path: Path) -> None:
    """Without rain in it the file says until when; without a column for rain nothing is known."""
    dry = read_weather(weather(tmp_path, TABLE.replace("0.25", "0")), at=AT)
    assert dry.reading.rain_in_s == math.inf
    assert any("where it ends" in n for n in dry.notices)
    bare = read_weather(weather(tmp_path, "time,wind_mps\n2026-11-20T14:00,2\n"), at=AT)
    assert bare.reading.rain_in_s is None
    assert bare.reading.temperature_c is None


def test_times_with_a_zone_are_put_on_the_plots_clock(tmp_path: Path) -> None:
    """20:00 in UTC is 14:00 in Chicago in November; times without a zone are the plot's own, which is said."""
    zone = ZoneInfo("America/Chicago")
    utc = read_weather(weather(tmp_path, "time,wind_mph\n2026-11-20T20:00+00:00,5\n"), at=AT.replace(tzinfo=zone))
    assert utc.reading.at is not None
    assert utc.reading.at.astimezone(UTC).hour == 20
    bare = read_weather(weather(tmp_path, TABLE), at=AT.replace(tzinfo=zone))
    assert any("no zone" in n for n in bare.notices)


def test_metric_columns_are_the_same_weather(tmp_path: Path) -> None:
    """9.656 km/h, 15 C and 12.7 mm are 6 mph, 59 F and half an inch."""
    text = "time,wind_kmh,temperature_c,rain_mm\n2026-11-20T14:00,9.656064,15,0\n2026-11-20T15:00,9,15,12.7\n"
    reading = read_weather(weather(tmp_path, text), at=AT).reading
    assert reading.wind_mps == pytest.approx(6 * MPH_MPS)
    assert reading.temperature_c == pytest.approx(15)
    assert reading.rain_m == pytest.approx(0.5 * IN_M)


BAD = {
    "": "weather.csv",
    "time\n2026-11-20T14:00\n": "no table of weather",
    "when,wind_mph\n2026-11-20T14:00,5\n": "no table of weather",
    "time,wind_mph\n": "no row",
    "time,wind_mph\nyesterday,5\n": "line 2: time",
    "time,wind_mph\n2026-11-20T14:00,-5\n": "line 2: wind_mph",
    "time,wind_mph\n2026-11-20T14:00,strong\n": "line 2: wind_mph",
    "time,humidity_pct\n2026-11-20T14:00,450\n": "line 2: humidity_pct",
    "time,temperature_c\n2026-11-20T14:00,59000\n": "line 2: temperature_c",
    "time,wind_mph,sky\n2026-11-20T14:00,5,blue\n": "line 2: sky",
    "time,wind_mph\n2026-11-20T10:00,5\n": "nothing within an hour",
}


@pytest.mark.parametrize(("text", "words"), BAD.items())
def test_weather_that_cannot_be_is_refused_with_its_line(tmp_path: Path, text: str, words: str) -> None:
    """One sentence: which file, which line, which column."""
    with pytest.raises(UnreadableFile) as caught:
        read_weather(weather(tmp_path, text), at=AT)
    assert words in str(caught.value)


def test_an_hour_off_is_near_enough_and_more_is_not(tmp_path: Path) -> None:
    """A row exactly an hour away counts, one a minute further does not."""
    path = weather(tmp_path, "time,wind_mph\n2026-11-20T14:00,5\n")
    there = datetime.fromisoformat("2026-11-20T14:00")
    assert read_weather(path, at=there + timedelta(hours=1)).reading.wind_mps
    with pytest.raises(UnreadableFile, match="within an hour"):
        read_weather(path, at=there + timedelta(minutes=61))
