"""How big are my plots, and how did the application go? From files to answers."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, time, tzinfo
from math import isfinite
from pathlib import Path
from typing import Literal

from gladebook.coverage.compute import drive_plots, judge_driven
from gladebook.coverage.ground import Marks
from gladebook.coverage.result import Coverage
from gladebook.errors import CallError
from gladebook.io.door import read_track
from gladebook.io.limits import LIMITS, Limits
from gladebook.jobs.entry import reentry_after
from gladebook.jobs.ground import GroundFiles, Site, from_property, site_of
from gladebook.passes.clean import cleaning_words
from gladebook.passes.path import CutRules
from gladebook.passes.sprayer import SAME_WIDTH_M, Sprayer, in_feet
from gladebook.passes.track import Track, trim_track
from gladebook.plots.acreage import Measured, measure_plots
from gladebook.records.kept import KeptPlot
from gladebook.spraying.gallons import GallonsCheck, check_gallons
from gladebook.spraying.reentry import Reentry

__all__ = [
    "Application",
    "Drives",
    "GroundFiles",
    "Spray",
    "Times",
    "TrackReading",
    "check_application",
    "day_of",
    "measure_ground",
]

Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class Times:
    """The part of the tracks to keep; see `gladebook.trim_track`.

    Attributes
    ----------
    start, end : first and last moment, or times of the day on which a track starts; None for all.
    zone : the zone of times that state none.
    """

    start: datetime | time | None = None
    end: datetime | time | None = None
    zone: tzinfo | None = None


@dataclass(frozen=True)
class TrackReading:
    """How tracks are read where their files do not say it; see `gladebook.read_track`.

    Attributes
    ----------
    columns, time_format : for tables.
    allow_estimated : for receivers' logs.
    layer : the track to read, where a file has several; the same for all files.
    limits : how much a file may hold.
    """

    columns: Mapping[str, str] | None = None
    time_format: str | None = None
    allow_estimated: bool = False
    layer: str | None = None
    limits: Limits = LIMITS


@dataclass(frozen=True)
class Drives:
    """Where the tracks come from, and how they are read.

    Attributes
    ----------
    files : the application's tracks, in order.
    sprayer : the boom, and where it sits.
    one_sided : the side of the receiver on which the whole swath lies; None where it lies on both.
    rules : when tracks are cut, and which missed strips are worth a walk; None for the stated defaults.
    times : the part of the tracks to keep.
    reading : how their files are read.
    least_width_m : the least width of a strip worth a walk, metres; None: as `rules` has it, by the boom.
    reentry_s : the label's re-entry time, as the user gives it, seconds; None where not given.
    """

    files: tuple[Path, ...]
    sprayer: Sprayer = field(default_factory=Sprayer)
    one_sided: Literal["left", "right"] | None = None
    rules: CutRules | None = None
    times: Times = field(default_factory=Times)
    reading: TrackReading = field(default_factory=TrackReading)
    least_width_m: float | None = None
    reentry_s: float | None = None


@dataclass(frozen=True)
class Spray:
    """What left the tank, for the gallons check.

    Attributes
    ----------
    used_m3 : spray used, m3.
    rate_m : spray volume per area, m3 per m2.
    """

    used_m3: float
    rate_m: float


@dataclass(frozen=True)
class Application:
    """One application.

    Attributes
    ----------
    measured : its plots.
    coverage : what it did to them.
    gallons : the gallons check, where one was asked for.
    notices : what the reader should know besides the notices of those.
    reentry : when its ground may be entered.
    tracks : what was driven.
    kept : its plots as a property keeps them, in the same order; () where they come from another file.
    day : the day that it belongs to; empty where it is not known.
    """

    measured: Measured
    coverage: Coverage
    gallons: GallonsCheck | None
    notices: tuple[str, ...] = ()
    reentry: Reentry = field(default_factory=Reentry)
    tracks: tuple[Track, ...] = ()
    kept: tuple[KeptPlot, ...] = ()
    day: str = ""


def measure_ground(files: GroundFiles, *, progress: Progress | None = None) -> Measured:
    """Measure the plots of a file, or of a property.

    Raises
    ------
    InputError
        Where a file cannot be read or a boundary is bad.
    CallError
        Where an option does not go with the file.
    """
    return _measure(files, site=site_of(files), progress=progress)


def _measure(files: GroundFiles, *, site: Site, progress: Progress | None) -> Measured:
    measured = measure_plots(
        site.plots,
        obstacles=site.obstacles,
        setback_m=files.setback_m,
        error=files.error,
        progress=_named(progress, "Measuring"),
    )
    notices = measured.notices
    if files.obstacles is None:  # a property's own may well touch none of the plots that were asked for
        notices = tuple(n for n in notices if not n.startswith("No obstacle touches"))
    return replace(measured, notices=(*site.notices, *notices))


def check_application(
    ground: GroundFiles,
    drives: Drives,
    *,
    spray: Spray | None = None,
    progress: Progress | None = None,
    first: Callable[[Measured, Coverage], None] | None = None,
) -> Application:
    """Say what one application did.

    Parameters
    ----------
    ground
        The plots.
    drives
        The application's tracks.
    spray
        What left the tank; None leaves the gallons check out.
    progress
        Called with what is being done and its share done, 0 to 1.
    first
        Called with the measured plots and the coverage before its strips are judged; see `gladebook.coverage.compute`.

    Raises
    ------
    InputError
        Where a file cannot be read or used.
    CallError
        Where a width or a time zone is missing.
    """
    site = None if from_property(ground) else site_of(ground)  # a property's boundaries are those of the tracks' day
    times = drives.times
    tracks = [
        trim_track(_read(f, drives.reading), start=times.start, end=times.end, zone=times.zone) for f in drives.files
    ]
    day = ground.day or day_of(tracks, zone=times.zone)
    site = site or site_of(ground, day=day)
    measured = _measure(ground, site=site, progress=progress)
    tell = _named(progress, "Driving the tracks") or (lambda _: None)
    driven = drive_plots(
        measured.plots,
        tracks,
        sprayer=_placed(drives, tracks=tracks),
        rules=_rules(drives, tracks=tracks),
        marks=Marks(obstacles=site.obstacles, left=site.left),
        progress=lambda share: tell(0.8 * share),
    )
    if first is not None:
        first(measured, driven.plain)
    coverage = judge_driven(driven, progress=lambda share: tell(0.8 + 0.2 * share))
    gallons = None
    if spray is not None:
        meant_m2 = coverage.plot_m2 - coverage.left_m2
        gallons = check_gallons(used_m3=spray.used_m3, rate_m=spray.rate_m, plots_m2=meant_m2)
    notices: list[str] = []
    if ground.left is not None and coverage.left_m2 <= 0:
        notices.append(f"{ground.left.name}: none of it lies in a plot, so nothing was left on purpose.")
    if len(tracks) > 1 and (cleaned := cleaning_words(coverage.cleaning)):
        notices.append(f"All tracks together: {' '.join(cleaned)}")
    if ground.pick:
        notices.append("Spray on plots that were not taken counts as outside.")
    if site.kept and not day:
        notices.append(
            "The tracks have no times, so the boundaries of today were used. Give the day of the application with "
            "--day, like 2026-10-04."
        )
    return Application(
        measured=measured,
        coverage=coverage,
        gallons=gallons,
        notices=tuple(notices),
        reentry=reentry_after(tracks, wait_s=drives.reentry_s, zone=times.zone),
        tracks=tuple(tracks),
        kept=site.kept,
        day=day,
    )


def day_of(tracks: Sequence[Track], *, zone: tzinfo | None) -> str:
    """The day of the first point, as ISO 8601 has it; empty without times.

    In UTC where the times are in UTC and no zone is given; on the file's own clock where they state no zone.
    """
    days: list[str] = []
    for track in tracks:
        known = [t for t in track.time_s.tolist() if isfinite(t)]
        if known and track.clock != "none":
            first = datetime.fromtimestamp(min(known), tz=UTC)
            days.append(f"{first.astimezone(zone) if zone and track.clock == 'utc' else first:%Y-%m-%d}")
    return min(days, default="")


def _placed(drives: Drives, *, tracks: Sequence[Track]) -> Sprayer:
    """The sprayer, its whole swath laid to one side of the receiver where that was said."""
    if drives.one_sided is None:
        return drives.sprayer
    widths_m = _widths_m(drives, tracks=tracks)
    if not widths_m:
        raise CallError('--one-sided: say how wide the swath is, like --boom "12 ft".')
    if max(widths_m) - min(widths_m) > SAME_WIDTH_M:
        raise CallError(
            f"--one-sided: widths from {in_feet(min(widths_m))} to {in_feet(max(widths_m))} are given or recorded, so "
            "its middle is not known. Give --boom as recorded; check tracks of other widths by themselves."
        )
    return replace(drives.sprayer, right_m=widths_m[0] / 2 * (1 if drives.one_sided == "right" else -1))


def _widths_m(drives: Drives, *, tracks: Sequence[Track]) -> list[float]:
    """Widths of the boom, given or recorded: of recorded ones the smallest and the largest."""
    sprayer = drives.sprayer
    width_m = sum(sprayer.sections_m) or sprayer.width_m
    recorded = [track.width_m[track.width_m > 0] for track in tracks]
    ends = [float(end) for widths in recorded if widths.size for end in (widths.min(), widths.max())]
    # Recorded widths beat those that are given, but for sections.
    return [*([] if width_m is None else [width_m]), *([] if sprayer.sections_m else ends)]


def _rules(drives: Drives, *, tracks: Sequence[Track]) -> CutRules | None:
    """The rules, with the least width of a strip worth a walk as a share of the boom."""
    widths_m = [] if drives.least_width_m is None else _widths_m(drives, tracks=tracks)
    if drives.least_width_m is None or not widths_m:
        return drives.rules
    if max(widths_m) - min(widths_m) > SAME_WIDTH_M:
        raise CallError(
            f"--least-width: booms from {in_feet(min(widths_m))} to {in_feet(max(widths_m))} wide are given or "
            'recorded. Say it as a share of the boom, like "50 %".'
        )
    return replace(drives.rules or CutRules(), least_strip_booms=drives.least_width_m / widths_m[0])


def _read(path: Path, reading: TrackReading) -> Track:
    return read_track(
        path,
        columns=reading.columns,
        time_format=reading.time_format,
        allow_estimated=reading.allow_estimated,
        layer=reading.layer,
        limits=reading.limits,
    )


def _named(progress: Progress | None, what: str) -> Callable[[float], None] | None:
    if progress is None:
        return None
    told = progress
    return lambda share: told(what, share)
