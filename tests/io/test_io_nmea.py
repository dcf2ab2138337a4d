"""NMEA logs: which sentences make a point, on which day, and what is left out and said."""

import math
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pynmea2
import pytest
import shapely
from pyproj import Geod

from gladebook.coverage.compute import cover_plots
from gladebook.errors import TrackError
from gladebook.io.gpx import reader as gpx
from gladebook.io.nmea import reader as nmea
from gladebook.passes.sprayer import Sprayer
from gladebook.passes.track import Track
from gladebook.plots.acreage import measure_plots
from gladebook.plots.plot import Plot
from tests.io import nmealog as n

_PATH = Path("drive.nmea")
_POSITION_DEG = 1e-9  # a tenth of a millimetre on the ground; receivers write 0.2 mm at best
_KNOT_MPS = 1852 / 3600  # the international nautical mile is 1852 m exactly


def _read(*sentences: str | bytes, **options: Any) -> Track:
    data = b"".join(s if isinstance(s, bytes) else s.encode("latin-1") for s in sentences)
    return nmea.read_track(_PATH, data=data, **options)


def _stamp(*moment: int) -> float:
    return datetime(*moment, tzinfo=UTC).timestamp()  # type: ignore[misc,arg-type]


def _says(track: Track, words: str) -> bool:
    return any(words in str(note) for note in track.notes)


# --- what sentences say ----------------------------------------------------------------------


def test_the_usual_published_example_gives_its_known_place_time_speed_and_hdop():
    """48 07.038' N, 11 31.000' E at 12:35:19 on 23 March 1994, 22.4 knots, HDOP 0.9: both sentences make one point."""
    # Both sentences, with their checksums, stand in most public descriptions of NMEA 0183.
    track = _read(
        "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\r\n",
        "$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A\r\n",
    )
    assert len(track) == 1
    assert track.lat_deg == pytest.approx([48 + 7.038 / 60], abs=_POSITION_DEG)
    assert track.lon_deg == pytest.approx([11 + 31 / 60], abs=_POSITION_DEG)
    assert track.time_s.tolist() == [_stamp(1994, 3, 23, 12, 35, 19)]
    assert track.speed_mps == pytest.approx([22.4 * _KNOT_MPS], rel=1e-12)
    assert (track.hdop.tolist(), track.clock, track.boom_on.tolist()) == ([0.9], "utc", [-1])
    assert track.notes == ()


@pytest.mark.parametrize("lat", [31.2041, -27.4422, 0.0021, -0.0021, 89.9999])
@pytest.mark.parametrize("lon", [-83.441, 151.4342, 0.0021, -0.0021, 179.9999])
@pytest.mark.parametrize("places", [1, 5, 9])
def test_places_times_speeds_and_hdop_are_those_that_an_independent_reader_finds(lat, lon, places):
    """In all quarters of the globe and at any number of decimals pynmea2 reads the same from the same sentences."""
    drive = [
        (n.gga(now, here, hdop=f"{0.6 + i / 7:.2f}"), n.rmc(now, here, speed=f"{i * 1.37:.3f}"))
        for i in range(5)
        for now, here in [
            (n.clock(7200 + i * 0.2), n.place(lat, lon + i * 1e-5 * math.copysign(1, -lon), places=places))
        ]
    ]
    track = _read(*(s for pair in drive for s in pair))
    said = [(pynmea2.parse(one, check=True), pynmea2.parse(two, check=True)) for one, two in drive]
    assert track.lat_deg == pytest.approx([a.latitude for a, _ in said], abs=_POSITION_DEG)
    assert track.lon_deg == pytest.approx([a.longitude for a, _ in said], abs=_POSITION_DEG)
    assert track.time_s.tolist() == [datetime.combine(b.datestamp, b.timestamp).timestamp() for _, b in said]
    assert track.hdop.tolist() == [float(a.horizontal_dil) for a, _ in said]
    assert track.speed_mps == pytest.approx([b.spd_over_grnd * _KNOT_MPS for _, b in said], rel=1e-12)


def test_a_drive_as_nmea_and_as_gpx_is_the_same_track():
    """The same points written as GPX give the same places to 1e-7 degrees, a centimetre, and the same times."""
    track, other = _as_nmea_and_gpx()
    assert np.abs(track.lat_deg - other.lat_deg).max() < 1e-7
    assert np.abs(track.lon_deg - other.lon_deg).max() < 1e-7
    assert track.time_s.tolist() == other.time_s.tolist()
    assert (track.clock, track.segment.tolist()) == (other.clock, other.segment.tolist())


def test_a_drive_as_nmea_and_as_gpx_gives_the_same_coverage_but_for_what_gpx_lacks():
    """The same points give the same treated, missed and outside ground to a tenth of a square foot, 0.01 m2, whatever
    speeds the log also records, where its HDOP, by which points are left out, is set aside."""
    log, other = _as_nmea_and_gpx()
    assert np.isfinite(log.speed_mps).all()
    assert np.isfinite(log.hdop).all()
    assert not np.isfinite(other.speed_mps).any()
    assert not np.isfinite(other.hdop).any()
    nothing = np.full(len(log), np.nan)
    bare = replace(log, hdop=nothing)
    lon, lat = log.lon_deg, log.lat_deg
    around = shapely.box(lon.min() - 5e-5, lat.min() - 5e-5, lon.max() + 5e-5, lat.max() + 5e-5)
    plots = measure_plots([Plot("Glade", around)]).plots
    one, two = (cover_plots(plots, [track], sprayer=Sprayer(width_m=3.0)) for track in (bare, other))
    assert one.treated_m2 > 30  # metres of way by metres of boom
    for ground in ("treated_m2", "missed_m2", "outside_m2", "overlap_m2"):
        assert getattr(one, ground) == pytest.approx(getattr(two, ground), abs=0.01)


def _as_nmea_and_gpx():
    """A drive as a receiver's log, and its places, read by another library, written as GPX."""
    log = n.drive([50_400 + i for i in range(40)])
    points = "".join(
        f'<trkpt lat="{m.latitude:.9f}" lon="{m.longitude:.9f}"><time>2026-05-04T14:00:{i:02d}Z</time></trkpt>'
        for i, m in enumerate(pynmea2.parse(line) for line in log.splitlines() if "GGA" in line)
    )
    text = f'<gpx version="1.1"><trk><trkseg>{points}</trkseg></trk></gpx>'
    return _read(log), gpx.read_track(Path("drive.gpx"), data=text.encode())


@pytest.mark.parametrize(
    ("sentences", "mps"),
    [
        ([n.gga(), n.rmc(speed="10.0")], 10 * _KNOT_MPS),
        ([n.gga(), n.vtg("10.0", "")], 10 * _KNOT_MPS),
        ([n.gga(), n.vtg("", "36.0")], 10),
        ([n.vtg("7.0"), n.gga(), n.sentence("GPVTG,84.4,80.0,10.0,18.5")], 10 * _KNOT_MPS),
        ([n.gga(), n.vtg("9.0"), n.rmc(speed="10.0")], 10 * _KNOT_MPS),
        ([n.gga(), n.vtg("10.0"), n.rmc(speed="")], 10 * _KNOT_MPS),
        ([n.gga(), n.vtg("10.0", mode=",N")], math.nan),
        ([n.gga(), n.vtg("", "")], math.nan),
        ([n.gga(), n.rmc(speed="fast")], math.nan),
    ],
    ids=["RMC", "VTG in knots", "VTG in km/h", "old VTG", "both", "RMC without", "void VTG", "empty VTG", "no figure"],
)
def test_speed_is_that_of_rmc_else_of_the_vtg_after_a_sentence_of_the_time(sentences, mps):
    """Knots and km/h are told apart, an empty or void speed is unknown, and RMC comes first."""
    assert _read(*sentences).speed_mps == pytest.approx([mps], rel=1e-12, nan_ok=True)


# --- one point a time ------------------------------------------------------------------------


def test_sentences_of_one_time_are_one_point_whatever_their_talker_and_order():
    """GP and GN, GGA and RMC of one time merge, even where one comes after a sentence of the next time."""
    at = [n.clock(50_400 + i * 0.1) for i in range(4)]
    track = _read(
        *(n.gga(at[0], t="GN"), n.rmc(at[0]), n.gga(at[0], hdop="3.0")),
        *(n.gga(at[1]), n.gga(at[2], t="BD"), n.rmc("140000.1", t="GN"), n.rmc(at[2]), n.rmc(at[3])),
    )
    assert track.time_s - track.time_s[0] == pytest.approx([0, 0.1, 0.2, 0.3], abs=1e-6)
    assert track.hdop.tolist()[:3] == [0.9] * 3
    assert math.isnan(track.hdop[3])
    assert np.isfinite(track.speed_mps).tolist() == [True] * 4


def test_two_receivers_in_one_log_are_said():
    """Where sentences of one time lie more than 10 m apart, the first GGA is the place, and it is said."""
    near, far = n.place(31.204, -83.441), n.place(31.204, -83.4408)
    _, _, apart_m = Geod(ellps="WGS84").inv(-83.441, 31.204, -83.4408, 31.204)
    assert apart_m > 10
    track = _read(n.rmc(place=far), n.gga(place=near), n.gga(place=far))
    assert track.lon_deg == pytest.approx([-83.441], abs=1e-6)
    assert _says(track, "for 1 points, sentences of one time lie more than 10 m apart")
    assert not _says(_read(n.rmc(place=near), n.gga(place=n.place(31.20405, -83.441))), "apart")


# --- days ------------------------------------------------------------------------------------


@pytest.mark.parametrize("dated", [0, 2, 5], ids=["first", "in the middle", "last"])
@pytest.mark.parametrize("kind", ["RMC", "ZDA"])
def test_a_day_stated_once_holds_for_all_points_and_moves_on_at_midnight(kind, dated):
    """Points before and after the one dated sentence are on its day, or on those before and after it."""
    seconds = [86_397 + i for i in range(6)]  # three before midnight, three after
    date = 4 if dated < 3 else 5
    says = {"RMC": lambda t: n.rmc(t, day=f"{date:02d}0526"), "ZDA": lambda t: n.zda(t, f"{date:02d},05,2026")}[kind]
    track = _read(*(n.gga(n.clock(s)) + (says(n.clock(s)) if i == dated else "") for i, s in enumerate(seconds)))
    assert track.time_s.tolist() == [_stamp(2026, 5, 4, 23, 59, 57) + i for i in range(6)]
    assert _says(track, "of several dates: 2026-05-04 (3), 2026-05-05 (3)")


def test_a_sentence_that_comes_late_over_midnight_stays_on_its_day():
    """An RMC of 23:59:59 after the GGA of 00:00:00 makes no day of its own."""
    late = n.rmc("235959", day="")
    track = _read(n.gga("235958"), n.zda("235958"), n.gga("235959"), n.gga("000000"), late, n.gga("000001"))
    assert track.time_s.tolist() == [_stamp(2026, 5, 4, 23, 59, 58) + i for i in range(4)]


def test_a_day_is_taken_as_stated_even_if_the_clock_jumps():
    """Two dates, the second earlier in the day: each point has its own sentence's day, and both are said."""
    track = _read(n.rmc("140000", day="040526"), n.rmc("090000", day="110526"), n.gga("090001"))
    assert track.time_s.tolist() == [_stamp(2026, 5, 4, 14), _stamp(2026, 5, 11, 9), _stamp(2026, 5, 11, 9, 0, 1)]
    assert _says(track, "2026-05-04 (1), 2026-05-11 (2)")


def test_the_date_of_rmc_comes_before_that_of_zda():
    """Where both state a day of one time and differ, RMC's counts."""
    for order in ((n.zda(), n.rmc(day="050526")), (n.rmc(day="050526"), n.zda())):
        assert _read(*order).time_s.tolist() == [_stamp(2026, 5, 5, 14)]


def test_a_log_without_a_date_has_times_of_day_on_no_stated_day():
    """Seconds since the midnight before the first point, a day more after the next, on a clock of no zone."""
    track = _read(n.gga("235959.5"), n.gga("000000.25"), n.rmc("000001", day=""))
    assert track.clock == "no zone"
    assert track.time_s.tolist() == [86_399.5, 86_400.25, 86_401.0]
    assert _says(track, "no sentence states a date")


def test_without_a_date_a_clock_set_back_begins_anew():
    """A log without dates that goes over the same hour twice keeps both, as they may be of two days."""
    again = [n.gga(n.clock(50_400 + 100 * i)) for i in range(3)]
    assert _read(*again, *again).time_s.tolist() == [50_400.0, 50_500.0, 50_600.0] * 2
    dated = [n.rmc(n.clock(50_400 + 100 * i)) for i in range(3)]
    assert len(_read(*dated, *dated)) == 3


@pytest.mark.parametrize(
    ("day", "date"), [("310579", (2079, 5, 31)), ("060180", (1980, 1, 6)), ("290224", (2024, 2, 29))]
)
def test_two_digits_of_the_year_are_of_1980_to_2079(day, date):
    """GPS time began in 1980, so 80 to 99 are of the last century."""
    assert _read(n.rmc(day=day)).time_s.tolist() == [_stamp(*date, 14)]


@pytest.mark.parametrize("day", ["310226", "000000", "130026", "0405", "040599999", "4 5 26"])
def test_a_date_off_the_calendar_is_left_out_and_its_point_kept(day):
    """The next date stated counts, and the bad one is said."""
    track = _read(n.rmc(day=day), n.rmc("140001"))
    assert track.time_s.tolist() == [_stamp(2026, 5, 4, 14), _stamp(2026, 5, 4, 14, 0, 1)]
    assert _says(track, "dates that are not on the calendar, or not of 1980 to 2079, in line 1 (1)")


def test_the_last_second_of_a_day_may_be_its_sixtieth():
    """A leap second, 23:59:60, is read as the midnight that it ends in."""
    assert _read(n.rmc("235960.00")).time_s.tolist() == [_stamp(2026, 5, 5)]


# --- void, estimated, quality ----------------------------------------------------------------

_NOWHERE = "0000.0000,N,00000.0000,E"


@pytest.mark.parametrize(
    "void",
    [
        n.rmc("135959", status="V"),
        n.rmc("135959", ",,,", status="V", speed="", day=""),
        n.rmc("135959", tail=",,N"),
        n.rmc("135959", _NOWHERE),
        n.gga("135959", quality="0"),
        n.gga("135959", ",,,", quality="0", hdop="99.99"),
        n.gga("135959", ",,,", quality=""),
        n.gga("135959", _NOWHERE),
        n.gga("135959", quality="0") + n.vtg("0.0") + n.rmc("135959", status="V"),
        n.gga("", ",,,", quality="0") + n.rmc("", ",,,", status="V", day=""),
    ],
)
def test_a_point_without_a_place_is_left_out_and_counted_once(void):
    """Status V, mode N, quality 0, no place and 0, 0 are void, however many sentences of the time say so."""
    track = _read(void, n.gga(), n.rmc())
    assert (len(track), track.void_points) == (1, 1)
    assert _says(track, "left out points sent while the receiver did not know its place (1)")


def test_a_time_with_one_good_place_is_no_void():
    """Where RMC is void but GGA has a place, or the other way round, the place counts."""
    track = _read(n.gga("140000", quality="0"), n.rmc("140000"), n.gga("140001"), n.rmc("140001", status="V"))
    assert (len(track), track.void_points) == (2, 0)


def test_the_date_of_a_void_rmc_does_not_count():
    """Receivers state a date of their own before they know it."""
    track = _read(n.rmc("000000", ",,,", status="V", day="220899"), n.gga("140000"), n.rmc("140001"))
    assert track.time_s[0] == _stamp(2026, 5, 4, 14)


@pytest.mark.parametrize(
    ("guessed", "words"),
    [
        (n.gga("140001", quality="6") + n.rmc("140001", tail=""), "estimated (1)"),
        (n.gga("140001", quality="7"), "entered by hand (1)"),
        (n.gga("140001", quality="8"), "simulated (1)"),
        (n.rmc("140001", tail=",,E"), "estimated (1)"),
        (n.rmc("140001", tail=",,M"), "entered by hand (1)"),
        (n.rmc("140001", tail=",,S,V"), "simulated (1)"),
    ],
)
def test_points_that_were_not_measured_are_refused_unless_asked_for(guessed, words):
    """Quality 6 to 8, or RMC's modes that mean the same, are one sentence with the line, or are taken and counted."""
    with pytest.raises(TrackError) as error:
        _read(n.gga(), guessed)
    assert str(error.value) == (
        f"drive.nmea: 1 of 2 points were not measured by the receiver, but are {words}; the first is in line 2. "
        "Give a measured recording, or take such points too with --estimated."
    )
    track = _read(n.gga(), guessed, allow_estimated=True)
    assert len(track) == 2
    assert _says(track, f"not measured are taken, as asked: {words}")


def test_a_measured_place_comes_before_an_estimated_one_of_the_same_time():
    """Where one talker estimates and another measures, the measured place is taken, and nothing is refused."""
    track = _read(n.gga(place=n.place(31.3, -83.4), quality="6", t="IN"), n.gga(t="GP"))
    assert track.lat_deg == pytest.approx([31.204], abs=1e-6)


def test_rtk_and_unknown_qualities_are_taken_and_said():
    """Quality 1 to 5 and 9 are taken; 4, 5 and 9 are counted in words."""
    track = _read(*(n.gga(n.clock(50_400 + i), quality=q) for i, q in enumerate("1234459")))
    assert len(track) == 7
    assert _says(track, "states RTK quality for 2 and float RTK for 1 of 7 points")
    assert _says(track, "states quality 9 for 1 points")
    assert not _says(_read(n.gga()), "RTK")
