"""NMEA logs as they come: text between sentences, damage, noise; and two readers that must agree on all of it."""

import re
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from gladebook.errors import GladebookError, TrackError
from gladebook.io.nmea import log as nmeabytes
from gladebook.io.nmea import reader as nmea
from gladebook.passes.track import Track
from tests.io import nmealog as n
from tests.io.same_track import difference

_PATH = Path("drive.nmea")
_SLOWEST_S = 5.0  # a hang would be far longer; a busy machine is not this slow
_POINTS = 12
_DRIVE = n.drive([50_400 + i * 0.5 for i in range(_POINTS)])


def _outcome(read: Callable[..., Track], data: bytes, **options: bool) -> Track | str:
    """The track, or the sentence with which the file is refused."""
    try:
        return read(_PATH, data=data, **options)
    except GladebookError as error:
        assert type(error) is TrackError  # noqa: PT017 - a track is right too
        assert str(error).startswith("drive.nmea: ")  # noqa: PT017 - same
        return str(error)


def _difference(one: Track | str, other: Track | str) -> list[str]:
    """What differs; numbers must be the same to the last bit, and of one type."""
    if isinstance(one, str) or isinstance(other, str):
        return [] if one == other else [f"{one} and {other}"]
    return difference(one, other)


def _check(data: bytes | str, **options: bool) -> Track | str:
    """Read at once and sentence by sentence, which must be the same; the answer."""
    data = data if isinstance(data, bytes) else data.encode("latin-1")
    answer = _outcome(nmea.read_track, data, **options)
    assert _difference(answer, _outcome(nmea.read_exactly, data, **options)) == []
    return answer


def _track(data: bytes | str) -> Track:
    answer = _check(data)
    assert isinstance(answer, Track)
    return answer


# --- good logs, however they are written -----------------------------------------------------


def _each_line(change: Callable[[str], str]) -> str:
    return "".join(change(line) for line in _DRIVE.splitlines(keepends=True))


_FORMS: dict[str, str | bytes] = {
    "as it is": _DRIVE,
    "LF": _DRIVE.replace("\r\n", "\n"),
    "CR": _DRIVE.replace("\r\n", "\r"),
    "no line ends": _DRIVE.replace("\r\n", ""),
    "blank lines": _DRIVE.replace("\r\n", "\r\n\r\n \t\r\n"),
    "blanks at the ends": _DRIVE.replace("\r\n", " \t\r\n"),
    "times before": _each_line(lambda line: f"[2026-05-04 14:00:00.123] RX, {line}"),
    "times after": _DRIVE.replace("\r\n", ",1777903200123\r\n"),
    "small letters in checksums": re.sub(r"\*..", lambda m: m[0].lower(), _DRIVE),
    "no checksums": re.sub(r"\*..", "", _DRIVE),
    "no checksums, blanks": re.sub(r"\*..", "  ", _DRIVE),
    "a mark before it": b"\xef\xbb\xbf" + _DRIVE.encode(),
    "UTF-16": _DRIVE.encode("utf-16"),
    "other talkers": re.sub(r"\$..|\*..", "", _DRIVE).replace("GGA", "$GNGGA").replace("RMC", "$N4RMC"),
    "text round it": f"# log of a drive\r\nhello\r\n{_DRIVE}that was all",
    "ship reports": _each_line(lambda line: f"{line}!AIVDM,1,1,,A,14eG;o@034o8sd<L9i:a;WF>062D,0*7D\r\n"),
    "sentences of makers": _each_line(lambda line: f"{line}{n.sentence('PUBX,00,1')}{n.sentence('PMTK010,001')}"),
    "noise between lines": _each_line(lambda line: line + "\xba\xce\x10\x00\x01*\xff,\r\n\x00\x80\r\n"),
    "noise before and after": _each_line(lambda line: f"\xb5b\x01\x00{line[:-2]}\xb5b\x07\r\n"),
    "a lone $ before each": _each_line(lambda line: f"${line}"),
    "cut sentences between": _each_line(lambda line: f"$GPRMC,1400{line}") + "$GPRMC,1400",
    "wrong checksums between": _each_line(lambda line: line + re.sub(r"\d\.", "7.", line)[:-5] + "*G0\r\n"),
}


@pytest.mark.parametrize("form", _FORMS)
def test_a_good_log_is_read_whatever_stands_round_its_sentences(form):
    """Line ends, text, ship reports, noise and other sentences change no point; both readers count them alike."""
    track, plain = _track(_FORMS[form]), _track(_DRIVE)
    assert len(track) == _POINTS
    assert nmeabytes.is_nmea(_DRIVE.encode()[:4096])
    for name in ("lat_deg", "lon_deg", "time_s", "hdop", "speed_mps"):
        assert getattr(track, name).tobytes() == getattr(plain, name).tobytes()
    assert (track.clock, track.void_points) == ("utc", 0)


# --- what is left out, and how it is said ----------------------------------------------------


def test_each_thing_left_out_is_counted_with_the_lines_where_it_first_stands():
    """Reasons come in the order of the file; other kinds of sentences are named, the most frequent first."""
    log = [
        "# a comment\r\n",
        n.gga(),
        n.sentence("GPGSV,1,1,00"),
        n.rmc()[:-3] + "0\r\n" if n.rmc()[-3] != "0" else n.rmc()[:-3] + "1\r\n",
        "!AIVDM,1,1,,A,14eG;o@034o8sd<L9i:a;WF>062D,0*7D\r\n",
        n.sentence("GPGSV,1,1,00") + n.sentence("GPGSA,A,1"),
        "\x00\x01$\x02\r\n",
        n.gga("1400", n.place(31.2, -83.4)),
        n.gga("", n.place(31.2, -83.4)),
        n.rmc("140000", "3160.1,N,08326.46,W"),
    ]
    track = _track("".join(log))
    assert tuple(map(str, track.notes)) == (
        "drive.nmea: left out lines of other text, in line 1 (1).",
        "drive.nmea: left out sentences with a wrong checksum, in line 4 (1).",
        "drive.nmea: left out ship reports, whose lines begin with !, in line 5 (1).",
        "drive.nmea: left out stretches of bytes that are no sentence, in line 8 (2).",
        "drive.nmea: left out sentences with a missing or impossible value, in lines 9 and 11 (2).",
        "drive.nmea: left out places that have no time, in line 10 (1).",
        "drive.nmea: left out sentences of kinds not needed for a track: GSV, GSA (3).",
        "drive.nmea: its times state no zone; they are used for the time between points only.",
        "drive.nmea: no sentence states a date, so its times are times of day by the receiver's clock.",
    )


def test_only_the_first_three_lines_are_named():
    """Of 36 wrong checksums the first three lines are told, and the count."""
    log = _DRIVE + "".join(f"$GPRMC,{i}*0G\n" for i in range(36))
    first = _DRIVE.count("\n") + 1
    words = f"wrong checksum, the first in lines {first}, {first + 1} and {first + 2} (36)."
    assert any(words in str(note) for note in _track(log).notes)


def test_a_log_without_a_place_is_refused_with_what_it_holds():
    """A receiver that never knew its place, and one that only tells satellites, each give one sentence."""
    void = n.rmc(status="V") + n.rmc("140001", status="V")
    assert _check(void) == (
        "drive.nmea: holds no track points, only points sent while the receiver did not know its place (2). "
        "Pick the file with the recording in it."
    )
    assert "only sentences of kinds not needed for a track: GSV (1)" in str(_check(n.sentence("GPGSV,1,1,00")))
    assert "holds no track points. Pick" in str(_check(b""))


def test_a_makers_own_sentence_is_no_rmc_whatever_its_letters():
    """An address that begins with P belongs to a maker, even if it ends in RMC."""
    track = _track(n.gga() + n.sentence("PGRMC,140000,A,3113.0,N,08327.0,W,1.0,0.0,040526,,,A"))
    assert (len(track), track.clock) == (1, "no zone")
    assert any("not needed for a track: PGRMC (1)" in str(note) for note in track.notes)


_BARE = [re.sub(r"\*..\r\n", "", s) for s in (n.gga(), n.rmc(), n.vtg(), n.zda())]


@pytest.mark.parametrize("whole", _BARE, ids=["GGA", "RMC", "VTG", "ZDA"])
def test_a_sentence_without_a_checksum_cut_anywhere_never_gives_a_wrong_value(whole):
    """Cut after each letter in turn, its point, speed, HDOP and day are those of the whole sentence, or unknown."""
    rest = n.gga("135959") + n.rmc("135958", speed="1.00")
    want = _track(rest + whole)
    for size in range(1, len(whole)):
        track = _track(rest + whole[:size])
        assert track.time_s.tolist() == want.time_s.tolist()[: len(track)]
        for name in ("lat_deg", "lon_deg", "hdop", "speed_mps"):
            got, true = getattr(track, name), getattr(want, name)[: len(track)]
            assert ((got == true) | np.isnan(got)).all()


_P = f"{n.LAT},{n.LON}"
_ODD = [
    *(
        n.gga(t)
        for t in ("14000", "1400000", "240000", "146000", "140061", "14:00:00", "140000.", "140000.1234567", "-1")
    ),
    *(
        n.gga(place=p)
        for p in (",,,", "3112.24,N,,", "3112.24,n,08326.46,W", "3112.24,,08326.46,W", "NaN,N,08326.46,W")
    ),
    *(n.gga(place=p) for p in ("9000.001,N,08326.46,W", "3112.24,N,18000.01,W", "-3112.24,N,08326.46,W", "1,N,2,E")),
    *(n.gga(place=p) for p in ("9000,N,18000,W", "4160.0000,N,08360.0,W", "4160.01,N,08326.46,W", ".5,N,08326.46,W")),
    *(
        n.gga(place=p)
        for p in ("000012.5,N,08326.46,W", "3112.24.1,N,08326.46,W", "3112.24,N,8326.46,W", "3112,E,083,N")
    ),
    *(n.gga(place=p) for p in ("3112.2400000000001234,N,08326.4600000000001234,W", "31_2.24,N,08326.46,W", "0,N,0,E")),
    *(n.gga(quality=q) for q in ("", "0", "9", "10", "A", "-1", "01")),
    *(
        n.gga(hdop=h)
        for h in ("", "-1", "nan", "inf", "1e3", "99.99", ".9", "9.", ".", "1234567890", "1_0", "0." + "3" * 40)
    ),
    *(n.rmc(status=s) for s in ("V", "", "D", "AV", "a")),
    *(n.rmc(speed=s) for s in ("", "-0.1", "fast", "1234567890.5", "000.0", "1e1")),
    *(n.rmc(day=d) for d in ("", "320526", "0405260", "04052026", "ddmmyy", "310479", "010180")),
    *(n.rmc(tail=t) for t in ("", ",,", ",,N", ",,E", ",,X", ",,AA", ",,A,V", ",,a")),
    *(
        n.vtg(s, k, mode=m)
        for s, k, m in (("", "", ""), ("-1", "1", ""), ("", "x", ",A"), ("1", "", ",N"), ("x", "1", ",N"))
    ),
    *(
        n.zda(t, d)
        for t in ("", "140000", "25")
        for d in ("04,05,2026", ",,", "4,5,2026", "31,02,2026", "04,05,26", "04,05,1979")
    ),
    *(
        n.sentence(b)
        for b in ("GPGGA", "GPGGA,", "GPRMC,,,", "GPVTG,1,2,3,4", "GPVTG,1,T,3,4", "GPVTG,,,,,,,,,N", "GPZDA,140000")
    ),
    *(
        n.sentence(b)
        for b in (f"GPGGA,140000,{_P},1", f"GPGGA,140000,{_P},1,08", f"GPRMC,140000,A,{_P},1.0,2.0,040526")
    ),
    *(
        n.sentence(b)
        for b in (f"GP\xffGGA,140000,{_P},1", f"gpGGA,140000,{_P},1", f"GGA,140000,{_P},1", f"GPGGA{'A' * 9},1")
    ),
    *(
        n.sentence(b)
        for b in (f"GPGGA,140000,{_P},1,08,0.9,{'9' * 400}", f"GPGGA,140000,{_P},1,08,0.9,\t,", "A", "", "*", "GP,")
    ),
]


@pytest.mark.parametrize("odd", range(len(_ODD)), ids=lambda i: repr(_ODD[i][1:60]))
@pytest.mark.parametrize("checksum", [True, False])
def test_both_readers_agree_on_every_odd_cell(odd, checksum):
    """Values that are missing, out of range, too long or of another form come out alike, with and without checksums."""
    text = _ODD[odd] if checksum else re.sub(r"\*..\r\n", "\r\n", _ODD[odd])
    for options in ({"allow_estimated": True}, {}):
        for log in (text, n.rmc("135959") + text + n.gga("140001"), text * 3 + _DRIVE):
            _check(log, **options)


# --- chunks, damage, noise -------------------------------------------------------------------


@pytest.mark.parametrize("size", [120, 200, 333, 1000])
@pytest.mark.parametrize("form", ["as it is", "CR", "no line ends", "noise between lines", "ship reports"])
def test_it_does_not_matter_where_the_file_is_parted_for_reading(size, form, monkeypatch):
    """Read in parts of a few lines, a log gives the same points, counts and lines."""
    data = _FORMS[form]
    whole = _track(data)
    monkeypatch.setattr(nmeabytes, "_CHUNK", size)
    assert _difference(whole, _track(data)) == []


_NASTY = [
    *(
        b"$",
        b"*",
        b",",
        b"$$",
        b"*4",
        b"*ZZ",
        b"\x00",
        b"\xff",
        b"\r",
        b"\n",
        b"!",
        b"-",
        b".",
        b" ",
        b"\t",
        b"$GPRMC,",
    ),
    *(b",,,,,,,,,,", b"9" * 30, b"NaN", b"1e9", b"V", b"*47\r\n$GPGGA,", b"\xb5b\x01\x07", b"$PUBX,00,", b"A" * 500),
]
_DAMAGE = st.lists(
    st.tuples(
        st.sampled_from(["flip", "delete", "insert", "overwrite", "repeat", "cut", "swap"]),
        st.floats(0, 1, exclude_max=True),
        st.integers(1, 120),
        st.one_of(st.sampled_from(_NASTY), st.binary(min_size=1, max_size=6)),
    ),
    min_size=1,
    max_size=6,
)
_BASE = (
    n.drive([86_397 + i for i in range(3)])
    + n.zda("000000", "05,05,2026")
    + n.gga("000001", quality="4")
    + re.sub(r"\*..", "", n.drive([86_403 + i / 5 for i in range(3)], day="050526"))
    + n.rmc("000005", ",,,", status="V", day="")
).encode()


def _damaged(data: bytes, damage: list[tuple[str, float, int, bytes]]) -> bytes:
    for kind, share, count, extra in damage:
        at = int(share * len(data))
        before, part, after = data[:at], data[at : at + count], data[at + count :]
        data = {
            "flip": before + bytes(b ^ (1 << count % 8) for b in part[:1]) + part[1:] + after,
            "delete": before + after,
            "insert": before + extra + part + after,
            "overwrite": before + extra + data[at + len(extra) :],
            "repeat": before + part * 3 + after,
            "cut": before,
            "swap": part + after + before,
        }[kind]
    return data


_MANY = settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@_MANY
@given(damage=_DAMAGE, allow=st.booleans())
@example(damage=[("cut", 0.5, 1, b"")], allow=False)
def test_a_damaged_log_is_read_alike_by_both_readers_or_refused(damage, allow):
    """Bytes flipped, lost, doubled, moved or added anywhere bring the same points or the same sentence, soon."""
    started = time.perf_counter()
    answer = _check(_damaged(_BASE, damage), allow_estimated=allow)
    if isinstance(answer, Track):
        assert (np.abs(answer.lat_deg) <= 90).all()
        assert (np.abs(answer.lon_deg) <= 180).all()
        assert np.isfinite(answer.time_s).all()
    assert time.perf_counter() - started < _SLOWEST_S


@_MANY
@given(
    pieces=st.lists(
        st.one_of(
            st.binary(max_size=12),
            st.sampled_from(_NASTY),
            st.sampled_from([s.encode("latin-1") for s in _ODD]),
            st.sampled_from([s.encode("latin-1") for s in (n.gga(), n.rmc(), n.vtg(), n.zda(), *_BARE)]),
        ),
        max_size=12,
    )
)
def test_any_mixture_of_sentences_and_noise_is_read_alike_by_both_readers_or_refused(pieces):
    """Good, odd and bare sentences, their beginnings and noise in any order bring the same points or sentence."""
    _check(b"".join(pieces))


@_MANY
@given(
    seconds=st.lists(st.integers(0, 86_399), min_size=1, max_size=8),
    noise=st.lists(st.binary(max_size=20).map(lambda b: b.replace(b"$", b"")), min_size=9, max_size=9),
    lat=st.floats(1, 89),
    lon=st.floats(-179, 179),
)
@example(seconds=[0], noise=[b"\xff\xfe"] * 9, lat=31.2, lon=-83.4)  # once taken for UTF-16
def test_a_good_log_is_never_refused_for_what_stands_round_its_lines(seconds, noise, lat, lon):
    """However often noise without a $ stands before, between and after lines, every time of the log is a point."""
    lines = n.drive(sorted(set(seconds)), lat=lat, lon=lon).encode().splitlines(keepends=True)
    log = b"".join(noise[i % 9] + line for i, line in enumerate(lines)) + noise[0]
    assert len(_track(log)) == len(set(seconds))


@pytest.mark.parametrize(
    "hostile",
    [
        b"$",
        b"\x00",
        b"\n",
        b"x\n",
        b"!\n",
        b"$A",
        b"$GPRMC,",
        b"$GPGGA,1*",
        b"\r\n$",
        b"$GPGGA" + b"," * 99,
        b"\xff\n$\n",
    ],
    ids=repr,
)
def test_a_million_bytes_of_anything_are_refused_soon(hostile):
    """Lone signs, lines without end and half a million lines of nothing take no longer than their length asks for."""
    started = time.perf_counter()
    with pytest.raises(TrackError):
        nmea.read_track(_PATH, data=hostile * (1_000_000 // len(hostile)))
    assert time.perf_counter() - started < _SLOWEST_S


def test_a_line_of_ten_million_letters_takes_nothing_from_those_round_it():
    """A cell of 10 MB, and one of 10 MB of noise, are each one stretch left out."""
    half = _DRIVE[: _DRIVE.index("$GPGGA", 1000)]
    log = half + "$GPGGA," + "1" * 10_000_000 + "\r\n" + "\x00" * 10_000_000 + _DRIVE[len(half) :]
    started = time.perf_counter()
    assert len(nmea.read_track(_PATH, data=log.encode("latin-1"))) == _POINTS
    assert time.perf_counter() - started < _SLOWEST_S


@pytest.mark.parametrize(
    "head", [b"time,lat,lon\n1,31.2,-83.4\n", b"<gpx/>", b"cost: $12,50\n", b"{}", b"$GP", b"\x00" * 50]
)
def test_other_files_are_not_taken_for_nmea(head):
    """A table, a map file and a price are no sentence."""
    assert not nmeabytes.is_nmea(head)


@pytest.mark.parametrize("head", [b"junk \xb5b $GNRMC,14", "log\r\n$PMTK010,001".encode("utf-16"), b"1,$GPGSV,3,1,11"])
def test_a_log_is_told_by_the_beginning_of_any_sentence(head):
    """After noise or text, in UTF-16, of a maker's own or any other kind."""
    assert nmeabytes.is_nmea(head)
