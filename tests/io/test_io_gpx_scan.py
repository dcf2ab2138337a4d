"""The reader of many points at once: it answers what the reader point by point answers, or nothing."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from gladebook.errors import InputError, TrackError
from gladebook.io.digits import STAMPS, number_or_nan, numbers_from, times_from
from gladebook.io.gpx import reader as gpx
from gladebook.io.gpx.scan import scan_track
from gladebook.io.trackrows import parse_time
from tests.io import corpus as c
from tests.io.broken_tracks import GPX as BROKEN_GPX
from tests.io.good_tracks import GPX_TRACKS
from tests.io.same_track import difference

_PATH = Path("track.gpx")


def _check(data: bytes) -> bool:
    """Whether the scan reads it; where it does, the other reader must answer the same."""
    scanned = scan_track(_PATH, data=data)
    if scanned is None:
        return False
    assert difference(scanned, gpx.read_slowly(_PATH, data=data)) == []
    return True


# --- the corpus ------------------------------------------------------------------------------

_TAKEN = {entry.name for entry in GPX_TRACKS} - {"waypoints and a route beside it", "UTF-16"}


@pytest.mark.parametrize("entry", GPX_TRACKS, ids=lambda entry: str(entry.name))
def test_the_scan_reads_every_good_file_that_is_plain_just_as_the_other_reader(entry, tmp_path):
    """Of the good files only UTF-16 and a route beside the track are left to the other reader; the rest are equal."""
    assert _check(entry.build(tmp_path).read_bytes()) == (entry.name in _TAKEN)


@pytest.mark.parametrize("entry", [e for e in BROKEN_GPX if e.read == "track"], ids=lambda entry: str(entry.name))
def test_the_scan_never_reads_a_broken_file(entry, tmp_path):
    """What the other reader refuses, the scan leaves to it, so that the refusal can name the line."""
    assert scan_track(_PATH, data=entry.build(tmp_path).read_bytes()) is None


# --- plain files of many points --------------------------------------------------------------

_HEAD = c.GPX_11 + ' xmlns:ns3="http://example.com/x/v1"'


def _time(i: int, tail: str = "Z") -> str:
    return f"<time>2026-05-{4 + i // 40:02d}T{13 + i % 7:02d}:{i % 60:02d}:{(7 * i) % 60:02d}{tail}</time>"


def _full(i: int) -> str:
    """Heights, times, dilution on most points, speed in an extension whose prefix and address hold digits."""
    hdop = f"<hdop>{0.5 + i % 30 / 10:.1f}</hdop>" if i % 5 else ""
    speed = f"<ns3:Ext2>\n<ns3:hr>{60 + i}</ns3:hr>\r\n<ns3:speed>{i % 13 / 8}</ns3:speed></ns3:Ext2>"
    return f"<ele>{95 + i}</ele>{_time(i)}{hdop}<extensions>{speed}</extensions>"


def _speed(text: str) -> str:
    return f"<speed>{text}</speed>"


_INSIDES: dict[str, Any] = {
    "times": _time,
    "everything": _full,
    "nothing": lambda _: "",
    "blanks round values": lambda i: f"\n\t<time>\r\n {_time(i)[6:-7]} </time>\n",
    "parts of a second": lambda i: _time(i, f".{'123456789'[: 1 + i % 9]}Z"),
    "offsets": lambda i: _time(i, ("-05:00", "+05:30", "+00:00")[i % 3]),
    "no zone": lambda i: _time(i, ""),
    "seconds": lambda i: f"<time>{1777903200 + i}.5</time>",
    "small letters": lambda i: _time(i, "z"),
    "compact times": lambda i: f"<time>20260504T14{i % 60:02d}00Z</time>",
    "years far off": lambda i: f"<time>{1700 + 5 * i}-02-28T00:00:00Z</time>",
    "empty and missing": lambda i: ("<time/>", "<time></time>", "", _time(i))[i % 4],
    "two of a name, the first counts": lambda i: f"{_speed(str(i))}<ns3:speed>9</ns3:speed>{_time(i)}",
    "a value round another": lambda i: f"<speed>1<x>2</x>{i}</speed>",
    "figures of all forms": lambda i: _speed(
        ("-0", "5.", ".5", "1e3", "1E-2", "+4", "inf", "nan", "fast", "1_0")[i % 10]
    ),
    "figures of 17 digits": lambda i: _speed(repr(1 / (3 + i))) + f"<hdop>{i}.0000000000000000{i}</hdop>",
    "other text": lambda i: f"<desc>höhe {'abc'[i % 3]} 100 %</desc><link href='http://example.com/{i}'/>{_time(i)}",
    "a prefix declared in the point": lambda i: f'<y:speed xmlns:y="http://example.com/y1">{i}</y:speed>',
}


def _walk(inside: Any, count: int = 90) -> str:
    """A walk of two tracks and four segments, one of them empty, with two points at 0, 0."""
    points = [
        c.trkpt(f"{-83.44 + i * 1.37e-5:.7f}", f"{31.2 - i * 2.11e-6:.{7 - i % 3}f}", inside(i)) for i in range(count)
    ]
    points[3] = c.trkpt("-0.0", "0", inside(3))
    points[50] = c.trkpt("0", "0.000", inside(50))
    first, second, third = ("".join(points[i : i + 30]) for i in (0, 30, 60))
    one = f"<trk><name>day 1</name><trkseg>\n{first}</trkseg>\n<trkseg/><trkseg>{second}</trkseg></trk>"
    two = f"<trk><name>day &amp; 2</name><trkseg>{third}</trkseg></trk><extensions><n>1</n></extensions>"
    return c.gpx(f"<metadata><name>w</name></metadata><wpt lat='1' lon='2'/>{one}\n{two}", head=_HEAD)


@pytest.mark.parametrize("name", _INSIDES)
def test_a_plain_file_is_read_at_once_and_just_as_point_by_point(name):
    """Times, figures, segments, points at 0, 0 and notes of every usual form come out to the last bit."""
    data = _walk(_INSIDES[name]).encode()
    assert _check(data)
    track = scan_track(_PATH, data=data)
    assert track is not None
    assert track.void_points == 2
    assert np.unique(track.segment).tolist() == [0, 2, 3]


@pytest.mark.parametrize(
    "change",
    [
        ("\n", "\r\n"),
        ('lat="', "lat = '"),
        ("<trkpt lat=", "<trkpt\n id='p7' lat="),
        ("></trkpt>", "/>"),
        ("</trkpt>", "</trkpt\n>"),
        ('encoding="UTF-8"', "encoding='us-ascii'"),
        (' encoding="UTF-8"', ""),
        ("<?xml version=", "\ufeff<?xml version="),
    ],
    ids=repr,
)
def test_other_ways_to_write_the_same_file_are_read_at_once_too(change):
    """Line ends, quotes, attributes, empty points, the mark before the file and the declaration do not matter."""
    text = _walk(lambda _: "")
    changed = text.replace(*change)
    if "lat = '" in change:
        changed = changed.replace('" lon=', "' lon=")
    assert changed != text
    assert _check(changed.encode())


# --- files that are not plain ----------------------------------------------------------------

_PLAIN = _walk(_full)
_POINT = c.trkpt("-83.4", "31.2")


@pytest.mark.parametrize(
    "change",
    [
        ("<metadata>", "<!-- a remark --><metadata>"),
        ("<metadata>", "<?note it?><metadata>"),
        ("<ele>100</ele>", "<!-- a point --><ele>100</ele>"),
        ("<ele>100</ele>", "<ele><![CDATA[100]]></ele>"),
        ("<ele>100</ele>", "<ele>1&#48;0</ele>"),
        ("<ele>100</ele>", f"<ele>100</ele>{_POINT}"),
        ("<ele>100</ele>", "<trkseg/><ele>100</ele>"),
        ("<ele>100</ele>", "<ele>1>0</ele>"),
        ("<gpx ", "<!DOCTYPE gpx><gpx "),
        ('encoding="UTF-8"', 'encoding="ISO-8859-1"'),
        ("<trk><name>day 1", f"{c.rte(c.GLADE)}<trk><name>day 1"),
        ("<trk><name>day 1", "<rte/><trk><name>day 1"),
        ("</trkseg>\n", f"</trkseg>\n<!-- {_POINT} -->"),
        ("</gpx>\n", f"</gpx>\n{_POINT}"),
        ("</gpx>\n", f"</gpx>\n{_POINT * 3}"),
        ("<trk><name>day &amp; 2", '<trk xmlns="http://example.com/1"><name>day &amp; 2'),
        ("<trkseg>\n", '<trkseg>\n<rtept lat="1" lon="2"/>'),
        ("<metadata>", f"{_POINT}<metadata>"),
        (">2026-05-04T13:00:00Z<", ">2026-02-30T13:00:00Z<"),
        (">2026-05-04T13:00:00Z<", ">2026-05-04T13:00:60Z<"),
        (">2026-05-04T13:00:00Z<", ">2026-05-04T13:00:00<"),
        ('lat="31.2000000"', 'lat="91.2000000"'),
        ('lat="31.2000000"', 'lat=" 31.2000000\n"'),
    ],
    ids=repr,
)
def test_a_file_that_is_not_plain_is_left_to_the_other_reader(change):
    """Remarks, CDATA, references, declarations, nesting, routes, odd times and places are not read at once."""
    assert _check(_PLAIN.encode())
    old, new = change
    changed = _PLAIN.replace(old, new, 1)
    assert changed != _PLAIN
    assert scan_track(_PATH, data=changed.encode()) is None


def test_names_that_differ_in_a_digit_alone_are_not_taken_for_one():
    """A point whose tags e1 and e2 do not match is refused, though all else is as in the points beside it."""
    data = _walk(lambda i: "<e1>5</e1>" if i != 70 else "<e1>5</e2>").encode()
    assert scan_track(_PATH, data=data) is None
    with pytest.raises(InputError, match="not whole GPX"):
        gpx.read_track(_PATH, data=data)


def test_a_prefix_that_differs_in_a_digit_alone_is_not_taken_for_declared():
    """A point that uses ns4 where the file declares ns3 is refused."""
    data = _PLAIN.replace("<ns3:speed>1.5</ns3:speed>", "<ns4:speed>1.5</ns4:speed>", 1).encode()
    assert scan_track(_PATH, data=data) is None
    with pytest.raises(InputError, match="not whole GPX"):
        gpx.read_track(_PATH, data=data)


def test_two_prefixes_that_become_one_by_a_digit_are_not_taken_for_two():
    """A point whose two declared prefixes stand for one address, so that it says a thing twice, is refused."""
    inside = '<q xmlns:y="http://example.com/1" xmlns:z="http://example.com/2" y:a="" z:a=""/>'
    assert _check(_walk(lambda _: inside).encode())
    data = _walk(lambda i: inside if i != 70 else inside.replace("/2", "/1")).encode()
    assert scan_track(_PATH, data=data) is None
    with pytest.raises(InputError, match="not whole GPX"):
        gpx.read_track(_PATH, data=data)


def test_a_file_cut_short_anywhere_is_never_read_at_once():
    """Whatever length remains of a plain file, the scan reads none of it but the whole."""
    data = _walk(_time, count=61).rstrip().encode()
    assert _check(data)
    assert [length for length in range(len(data)) if scan_track(_PATH, data=data[:length]) is not None] == []


def test_points_of_ever_new_patterns_are_left_to_the_other_reader_before_much_is_read():
    """Where nearly every point has words of its own, reading by patterns is given up."""
    words = ["".join(chr(97 + int(d)) for d in str(i)) for i in range(2000)]
    points = "".join(c.trkpt("-83.4", "31.2", f"<desc>{word}</desc>") for word in words)
    assert scan_track(_PATH, data=c.gpx(f"<trk><trkseg>{points}</trkseg></trk>").encode()) is None


# --- drawn files -----------------------------------------------------------------------------

_PIECES = [
    b"<", b">", b"/", b"&", b"'", b'"', b"=", b" ", b"\n", b"0", b"7", b"-", b".", b":", b"Z", b"\x00", b"\xff",
    b"<!--", b"-->", b"<![CDATA[", b"]]>", b"<?x?>", b"&#49;", b"&amp;", b"</trkpt>", b"<trkpt", b"<trkseg>",
    b"</trkseg>", b"</trk>", b"<trk>", b"<rte>", b'<rtept lat="1" lon="2"/>', b'<trkpt lat="3" lon="4"/>', b"</gpx>",
    b"<time>", b"</time>", b"<speed>5</speed>", b"<time/>", b"xmlns=", b'xmlns:q="q"', b"<q:speed>1</q:speed>",
]  # fmt: skip
_BASES = [_walk(_full, 62).encode(), _walk(_time, 62).encode(), _walk(lambda _: "", 62).encode()]
_PLACE = st.floats(0, 1, exclude_max=True)
_BLOW = st.tuples(
    st.sampled_from(["insert", "replace", "delete", "repeat", "move"]), _PLACE, _PLACE, st.integers(1, 60)
)


def _struck(data: bytes, blows: list[Any], pieces: list[bytes]) -> bytes:
    for (kind, place, other, length), piece in zip(blows, pieces, strict=True):
        at, to = int(place * len(data)), int(other * len(data))
        part = data[at : at + length]
        if kind == "before a tag":
            at = max(data.find(b"<", at), 0)
            data = data[:at] + piece + data[at:]
        elif kind == "insert":
            data = data[:at] + piece + data[at:]
        elif kind == "digit":
            data = data[:at] + b"%d" % (length % 10) + data[at + 1 :]
        elif kind == "replace":
            data = data[:at] + piece + data[at + len(piece) :]
        elif kind == "repeat":
            data = data[:at] + part + data[at:]
        else:
            data = data[:at] + data[at + length :]
            if kind == "move":
                data = data[:to] + part + data[to:]
    return data


@settings(max_examples=400)
@given(
    base=st.sampled_from(_BASES),
    strikes=st.lists(st.tuples(_BLOW, st.sampled_from(_PIECES) | st.binary(min_size=1, max_size=3)), max_size=3),
)
def test_of_a_damaged_file_the_scan_reads_what_the_other_reader_reads_or_nothing(base, strikes):
    """Bytes and whole tags added, lost, doubled or moved anywhere: the answers are equal, or the scan has none."""
    _check(_struck(base, [blow for blow, _ in strikes], [piece for _, piece in strikes]))


_ROUTE_POINT = '<rtept lat="31.2" lon="-83.4"/>'
_POINTS = st.sampled_from(
    [
        _POINT,
        c.trkpt("0", "0"),
        c.trkpt("-83.5", "31.3"),
        c.trkpt("-83.5", "31.3", "<time>2026-05-04T14:00:05Z</time>"),
        c.trkpt("-83.6", "31.4", "<time>2026-05-04T14:00:06Z</time><e1/>"),
        c.trkpt("-83.6", "31.4", "<e2/><speed>2.5</speed>"),
        '<trkpt lon="-83.7" lat="31.5"/>',
        "\n",
    ]
)
_SEGMENTS = st.lists(_POINTS, max_size=5).map(lambda points: f"<trkseg>{''.join(points)}</trkseg>")
_TRACKS = st.lists(_SEGMENTS | st.sampled_from(["<name>x 1</name>", "<trkseg/>", "7"]), max_size=4).map(
    lambda inside: f"<trk>{''.join(inside)}</trk>"
)
_FILES = st.lists(_TRACKS, min_size=1, max_size=3).map("".join)
_ASIDE = st.sampled_from(
    [
        *("", "</trkseg><trkseg>", "</trkseg></trk><trk><trkseg>", "</trkseg><name>2</name><trkseg>", _POINT, "7"),
        *("<trkseg/>", "<x>", "</x>", "<!--", "-->", "</trk><rte>", "</rte><trk>", "</trkseg></trk><trk>", "<trkseg>"),
        *(_ROUTE_POINT, "<trk/>", "<rte/>", "<extensions>", "</extensions>", "<a b='<trkpt'/>"),
    ]
)


def _placed(text: str, asides: list[tuple[float, str]]) -> str:
    """Pieces put before tags of a text."""
    for place, piece in asides:
        at = text.find("<", int(place * len(text)))
        text = text[:at] + piece + text[at:]
    return text


@settings(max_examples=400)
@given(text=_FILES, asides=st.lists(st.tuples(_PLACE, _ASIDE), max_size=2))
@example(text=f"<trk></trk>{_POINT}<trk><trkseg/></trk>", asides=[])
@example(text=f"{_POINT * 3}<trk><trkseg>{_ROUTE_POINT * 2}</trkseg></trk>", asides=[])
@example(text=f"<trk><trkseg>{_POINT}<!--{_POINT}</trkseg><trkseg>{_POINT}--></trkseg></trk>", asides=[])
def test_of_a_file_put_together_at_random_the_scan_reads_the_same_or_nothing(text, asides):
    """Points, segments, tracks, routes and remarks in any order: the answers are equal, or the scan has none."""
    _check(c.gpx(_placed(text, asides)).encode())


# --- figures and times -----------------------------------------------------------------------


def _cells(texts: list[str]) -> Any:
    return np.array([list(text.encode()) for text in texts], dtype=np.uint8).reshape(len(texts), -1)


@settings(max_examples=300)
@given(
    form=st.from_regex(r"\A[-+]?[0-9]{0,19}(\.[0-9]{0,19})?(e-?[0-9]{1,2})?\Z") | st.sampled_from(["", "nan", " 7\t"]),
    digits=st.lists(st.text("0123456789", min_size=44, max_size=44), min_size=1, max_size=5),
)
def test_figures_of_one_form_are_those_that_each_has_alone(form, digits):
    """Figures read together are to the last bit those that Python reads, up to 19 digits on either side."""
    texts = [form, *("".join(d if f.isdigit() else f for f, d in zip(form, row, strict=False)) for row in digits)]
    alone = np.array([number_or_nan(text) for text in texts])
    assert numbers_from(_cells(texts)).tobytes() == alone.tobytes()


_CLOCK = st.tuples(
    st.integers(1, 9999), st.integers(0, 13), st.integers(0, 32), st.integers(0, 24), st.integers(0, 60),
    st.integers(0, 60), st.text("0123456789", min_size=9, max_size=9), st.integers(0, 24), st.integers(0, 60),
)  # fmt: skip


@settings(max_examples=300)
@given(
    clocks=st.lists(_CLOCK, min_size=1, max_size=3),
    parts=st.integers(0, 9),
    zone=st.sampled_from(["", "Z", "z", "+", "-"]),
    mark=st.sampled_from(["T", " "]),
)
@example(clocks=[(2024, 2, 29, 23, 59, 59, "999999999", 23, 59)], parts=9, zone="-", mark="T")
@example(clocks=[(2023, 2, 29, 0, 0, 0, "000000000", 0, 0)], parts=0, zone="Z", mark="T")
@example(clocks=[(2100, 2, 29, 0, 0, 0, "000000000", 0, 0)], parts=0, zone="Z", mark="T")
def test_times_of_one_form_are_those_that_each_has_alone(clocks, parts, zone, mark):
    """Times read together are to the last bit those read alone; those off the calendar are not read."""
    texts = []
    for year, month, day, hour, minute, second, fraction, far, near in clocks:
        offset = f"{zone}{far:02d}:{near:02d}" if zone in ("+", "-") else zone
        split = f".{fraction[:parts]}" if parts else ""
        texts.append(f"{year:04d}-{month:02d}-{day:02d}{mark}{hour:02d}:{minute:02d}:{second:02d}{split}{offset}")
    try:
        alone = [parse_time(text, source="x", where="y") for text in texts]
    except TrackError:
        try:
            together = times_from(_cells(texts), source="x")
        except TrackError:
            together = None
        assert together is None
        return
    together = times_from(_cells(texts), source="x")
    if together is None:
        assert any(not 1700 < clock[0] < 2250 or clock[3] == 24 for clock in clocks)
        return
    assert together[0].tobytes() == np.array([time_s for time_s, _ in alone]).tobytes()
    assert [STAMPS[i] for i in together[1]] == [stamp for _, stamp in alone]
