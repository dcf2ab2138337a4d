"""One HTML file with the map, the words and the table, that works with no network at all.

Leaflet comes from an installed package and is pasted in whole, with its licence. Its style sheet
names image files; none is used here, so the names are taken out. Whatever a user can type is
escaped where this module writes markup, and set as text where the page's own script draws. A
content policy forbids every other script and every request but for the photo that a user may
switch on.
"""

import base64
import hashlib
import html
import json
from collections.abc import Sequence
from importlib import resources
from typing import Any

import shapely

from gladebook.beside.pass_count import PassCount
from gladebook.coverage.result import Coverage, PlotCoverage
from gladebook.doubt.verdict import Word
from gladebook.plots.acreage import Measured
from gladebook.spraying.cautions import CAUTIONS
from gladebook.spraying.gallons import GallonsCheck
from gladebook.spraying.reentry import Reentry
from gladebook.view.aerial import PHOTO, PHOTO_HOST
from gladebook.view.figures import acres, area
from gladebook.view.leaflet import leaflet_files
from gladebook.view.palette import LOOKS
from gladebook.view.skips import HEADINGS, cant_tell_words, entry_words, numbered, strip_rest, strip_words
from gladebook.view.tables import coverage_cells
from gladebook.view.totals import WORTH_SAYING_M2
from gladebook.view.words import CANNOT_SEE, TREATED_MEANS, coverage_words, measure_words, pass_words, without_ranges

__all__ = ["map_data", "map_page"]

_ORDER = ("treated", "outside", "left", "unknown", "missed", "overlap", "track_off", "track_on")
_STRIP_LOOKS: dict[Word, str] = {"go look": "go_look", "can't tell": "cant_tell", "boom off": "boom_off"}
_POP_UPS: dict[Word, str] = {
    "go look": "Go look",
    "can't tell": "Can't tell: a skip, or the receiver's error",
    "boom off": "The record shows the boom off",
}
_DIGITS = 8  # of a degree: a millimetre
_WORTH_DRAWING_M2 = 0.1


def map_page(
    measured: Measured,
    *,
    title: str,
    coverage: Coverage | None = None,
    gallons: GallonsCheck | None = None,
    notices: Sequence[str] = (),
    reentry: Reentry | None = None,
) -> str:
    """Make the page.

    Parameters
    ----------
    measured
        The plots, measured.
    title
        What stands at the top.
    coverage
        What an application did; None draws the plots alone.
    gallons
        The gallons check, where there is one; it stands first.
    notices
        What the reader should know, beside the coverage's own.
    reentry
        When the ground may be entered; None: by the label.
    """
    script, style, licence = leaflet_files()
    script = script.replace("</script", "<\\/script")
    own = resources.files("gladebook.view")
    styles = [style, *(own.joinpath(name).read_text(encoding="utf-8") for name in ("ground.css", "map.css"))]
    scripts = [script, *(own.joinpath(name).read_text(encoding="utf-8") for name in ("ground.js", "map.js"))]
    policy = (
        f"default-src 'none'; script-src {_hashes(scripts)}; style-src {_hashes(styles)}; "
        f"img-src data: {PHOTO_HOST}; base-uri 'none'; form-action 'none'"
    )
    data = json.dumps(map_data(measured, coverage), ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    safe = data.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
    return "\n".join(
        [
            "<!DOCTYPE html>",
            '<html lang="en"><head><meta charset="utf-8">',
            f'<meta http-equiv="Content-Security-Policy" content="{policy}">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            '<link rel="icon" href="data:,">',
            f"<title>{html.escape(title)}</title>",
            *(f"<style>{s}</style>" for s in styles),
            "</head><body>",
            _top(title, measured, coverage, gallons),
            _field(coverage),
            _strips(coverage, reentry or Reentry()),
            _table(measured, coverage),
            _notes(measured, coverage, gallons, notices),
            _foot(licence),
            f'<script type="application/json" id="data">{safe}</script>',
            *(f"<script>{s}</script>" for s in scripts),
            "</body></html>",
            "",
        ]
    )


def _top(title: str, measured: Measured, coverage: Coverage | None, gallons: GallonsCheck | None) -> str:
    words = measure_words(measured) if coverage is None else coverage_words(coverage, gallons_check=gallons)
    flagged = gallons is not None and gallons.flagged
    paragraphs = "".join(
        f"<p{' class=flag' if flagged and i == 0 else ''}>{html.escape(w)}</p>" for i, w in enumerate(words)
    )
    return f'<header><h1>{html.escape(title)}</h1><div class="words">{paragraphs}</div></header>'


def _field(coverage: Coverage | None) -> str:
    treated = "" if coverage is None else f"<p>Treated: {TREATED_MEANS}.</p>"
    return (
        '<main><section><div class="field"><div id="map" role="application" aria-label="Map of the plots"></div>'
        '<div class="key"><h2>Shown on the map</h2><div class="switches" id="switches"></div>'
        f"{treated}</div></div></section>"
    )


def _table(measured: Measured, coverage: Coverage | None) -> str:
    if coverage is None:
        header = ["Plot", "Acres", "95 % range"]
        rows = [[p.name, acres(p.net_m2), f"{acres(p.low_m2)} to {acres(p.high_m2)}"] for p in measured.plots]
        total = ["Total", acres(measured.total_m2), ""]
    else:
        header, rows, total = coverage_cells(coverage)
    head = "".join(f'<th scope="col">{html.escape(h)}</th>' for h in header)
    body = "".join("<tr>" + "".join(f"<td>{html.escape(c)}</td>" for c in row) + "</tr>" for row in rows)
    last = "".join(f"<td>{html.escape(c)}</td>" for c in total)
    return (
        f'<section><h2>Acres by plot</h2><div class="wide"><table><thead><tr>{head}</tr></thead>'
        f'<tbody>{body}<tr class="total">{last}</tr></tbody></table></div></section>'
    )


def _strips(coverage: Coverage | None, reentry: Reentry) -> str:
    if coverage is None or not coverage.strips:
        return ""
    parts = [f"<p class=flag>{html.escape(entry_words(reentry))}</p>"]
    for word, heading in HEADINGS.items():
        strips = numbered(coverage, word)
        if not strips:
            continue
        items = "".join(
            f'<li><button type="button" data-strip="{n - 1}">{html.escape(strip_words(s, number=n))}</button></li>'
            for n, s in strips
        )
        listed = f'<ol class="strips">{items}</ol>'
        if word == "can't tell":
            first, *why = (html.escape(w) for w in cant_tell_words(coverage))
            reasons = "".join(f"<p>{w}</p>" for w in why)
            parts.append(f"{reasons}<details><summary>{first}</summary>{listed}</details>")
        else:
            parts.append(f"<h3>{html.escape(heading.removesuffix(':'))}</h3>{listed}")
    return f'<section class="skips"><h2>Missed strips</h2>{"".join(parts)}</section>'


def _notes(measured: Measured, coverage: Coverage | None, gallons: GallonsCheck | None, notices: Sequence[str]) -> str:
    groups: list[tuple[str, Sequence[str]]] = []
    if coverage is not None:
        groups.append(("Assumed", coverage.assumptions))
        groups.append(("What this cannot see", [CANNOT_SEE]))
    if gallons is not None or (coverage is not None and coverage.overlap_m2 > 0):
        groups.append(("Cautions", CAUTIONS))
    known = measured.notices if coverage is None else (*without_ranges(measured.notices), *coverage.notices)
    groups.append(("Notices", [*notices, *known]))
    return "".join(_listed(name, sentences) for name, sentences in groups if sentences)


def _listed(name: str, sentences: Sequence[str]) -> str:
    items = "".join(f"<li>{html.escape(s)}</li>" for s in sentences)
    return f'<section><h2>{name}</h2><ul class="plain">{items}</ul></section>'


def _foot(licence: str) -> str:
    return (
        "</main><footer><p>Acres are international acres on the WGS 84 ellipsoid. North is up.</p>"
        "<details><summary>Licence of the map library inside this file</summary>"
        f"<pre>{html.escape(licence)}</pre></details></footer>"
    )


def map_data(measured: Measured, coverage: Coverage | None) -> dict[str, Any]:
    """What is drawn: plots, kinds of ground with their looks, and missed strips, as GeoJSON and words."""
    covered = {} if coverage is None else _covered(coverage)
    by_plot: list[tuple[str, ...]] = [()] * len(measured.plots)
    if coverage is not None:
        counts = coverage.passes or [None] * len(coverage.plots)  # none before its strips are judged
        by_plot = [_plot_lines(row, passes) for row, passes in zip(coverage.plots, counts, strict=True)]
    return {
        "plots": [
            {"shape": _geojson(p.shape), "words": [p.name, f"{acres(p.net_m2)} ac", *lines]}
            for p, lines in zip(measured.plots, by_plot, strict=True)
            if not shapely.is_empty(p.shape)
        ],
        "shapes": {
            key: _geojson(shape)
            for key, (shape, area_m2) in covered.items()
            if shape is not None and not shapely.is_empty(shape) and (area_m2 is None or area_m2 >= _WORTH_DRAWING_M2)
        },
        "looks": [
            {
                "key": look.key,
                "word": look.word,
                "meaning": look.meaning,
                "colour": look.colour,
                "pattern": look.pattern,
                "size": _size(covered.get(look.key, (None, None))[1]),
            }
            for look in LOOKS
        ],
        "order": list(_ORDER),
        "strips": []
        if coverage is None
        else [
            {
                "plot": s.plot,
                "kind": _STRIP_LOOKS[s.verdict.word],
                "verdict": _POP_UPS[s.verdict.word],
                "words": strip_rest(s),
                "lat": s.lat_deg,
                "lon": s.lon_deg,
                "shape": _geojson(s.shape),
            }
            for s in coverage.strips
        ],
        "photo": PHOTO,
    }


def _covered(coverage: Coverage) -> dict[str, tuple[Any, float | None]]:
    layers = coverage.layers
    strips = {key: (None, sum(s.area_m2 for _, s in numbered(coverage, word))) for word, key in _STRIP_LOOKS.items()}
    return {
        **strips,
        "treated": (layers.treated, coverage.treated_m2),
        "missed": (layers.missed, coverage.missed_m2),
        "overlap": (layers.overlap, coverage.overlap_m2),
        "outside": (layers.outside, coverage.outside_m2),
        "unknown": (layers.unknown, coverage.unknown_m2),
        "left": (layers.left, coverage.left_m2),
        "track_on": (layers.track_on, None),
        "track_off": (layers.track_off, None),
    }


def _size(area_m2: float | None) -> str:
    return "" if area_m2 is None else area(area_m2)


def _plot_lines(row: PlotCoverage, passes: PassCount | None) -> tuple[str, ...]:
    _, *times = row.count_m2
    worth = [m2 >= WORTH_SAYING_M2 for m2 in times]
    words = ("once", "twice", "3 or more times")
    counts = [f"{word} {area(m2)}" for word, m2, told in zip(words, times, worth, strict=True) if told]
    return (
        f"Treated {area(row.treated_m2)}" + (f": {', '.join(counts)}" if any(worth[1:]) else ""),
        f"Missed {area(row.missed_m2)}",
        f"Overlap {area(row.overlap_m2)}",
        *((f"Unknown {area(row.unknown_m2)}",) if row.unknown_m2 > 0 else ()),
        *((f"Left on purpose {area(row.left_m2)}",) if row.left_m2 > 0 else ()),
        *((pass_words(passes),) if passes is not None and passes.found else ()),
        f"Treated: {TREATED_MEANS}.",
    )


def _geojson(shape: Any) -> Any:
    return json.loads(shapely.to_geojson(shapely.transform(shape, lambda xy: xy.round(_DIGITS))))


def _hashes(sources: Sequence[str]) -> str:
    digests = (base64.b64encode(hashlib.sha256(s.encode("utf-8")).digest()).decode() for s in sources)
    return " ".join(f"'sha256-{d}'" for d in digests)
