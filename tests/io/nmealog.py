"""NMEA sentences for the tests, written from public descriptions of NMEA 0183; the places are invented."""

from collections.abc import Sequence
from functools import reduce
from operator import xor

DAY = "040526"
LAT, LON = "3112.24000,N", "08326.46000,W"  # 31.204, -83.441


def sentence(body: str, *, end: str = "\r\n") -> str:
    """A sentence with its checksum: the exclusive or of all that stands between $ and *."""
    return f"${body}*{reduce(xor, body.encode('latin-1'), 0):02X}{end}"


def gga(
    time: str = "140000", place: str = f"{LAT},{LON}", *, quality: str = "1", hdop: str = "0.9", t: str = "GP"
) -> str:
    return sentence(f"{t}GGA,{time},{place},{quality},08,{hdop},95.4,M,-30.1,M,,")


def rmc(
    time: str = "140000",
    place: str = f"{LAT},{LON}",
    *,
    status: str = "A",
    speed: str = "2.50",
    day: str = DAY,
    tail: str = ",,A",
    t: str = "GP",
) -> str:
    return sentence(f"{t}RMC,{time},{status},{place},{speed},84.4,{day},{tail}")


def vtg(speed: str = "2.50", kmh: str = "4.63", *, mode: str = ",A") -> str:
    return sentence(f"GPVTG,84.4,T,,M,{speed},N,{kmh},K{mode}")


def zda(time: str = "140000", day: str = "04,05,2026") -> str:
    return sentence(f"GPZDA,{time},{day},00,00")


def angle(degrees: float, *, wide: int, sides: str, places: int) -> str:
    """Degrees as ddmm.mmmm and the hemisphere; the minutes are cut, as rounding could make 60 of them."""
    minutes = int(abs(degrees) * 60 * 10**places)
    whole, part = divmod(minutes, 10**places)
    tail = f".{part:0{places}d}" if places else ""
    return f"{whole // 60:0{wide}d}{whole % 60:02d}{tail},{sides[degrees < 0]}"


def place(lat: float, lon: float, *, places: int = 5) -> str:
    return f"{angle(lat, wide=2, sides='NS', places=places)},{angle(lon, wide=3, sides='EW', places=places)}"


def clock(second: float, *, places: int = 2) -> str:
    whole = int(second)
    tail = f".{round((second - whole) * 10**places):0{places}d}" if places else ""
    return f"{whole // 3600 % 24:02d}{whole // 60 % 60:02d}{whole % 60:02d}{tail}"


def drive(seconds: Sequence[float], *, lat: float = 31.204, lon: float = -83.441, day: str = DAY) -> str:
    """A receiver's usual log: GGA, two sentences of other kinds, VTG and RMC each time, about a metre apart."""
    lines = []
    for i, second in enumerate(seconds):
        here, now = place(lat + i * 9e-6, lon + (i % 7) * 1.1e-5), clock(second)
        speed = f"{1.5 + i % 90 / 7:.2f}"
        lines += [
            gga(now, here, hdop=f"{0.7 + i % 13 / 10:.1f}"),
            sentence("GPGSA,A,3,05,12,15,20,21,25,29,,,,,,1.8,1.2,1.3"),
            sentence("GPGSV,1,1,02,05,13,138,47,10,14,316,35"),
            vtg(speed, f"{float(speed) * 1.852:.2f}"),
            rmc(now, here, speed=speed, day=day),
        ]
    return "".join(lines)
