"""``gladebook look``."""

from pathlib import Path
from typing import Annotated

import typer

from gladebook.cli import options as o
from gladebook.cli import reading as r
from gladebook.cli.show import answer

__all__ = ["look"]

File = Annotated[Path, typer.Argument(metavar="FILE", help="Any file of plots or of a track.", show_default=False)]


def look(
    file: File,
    name_field: o.NameField = None,
    crs: o.Crs = None,
    layer: o.Layer = None,
    repair: o.Repair = False,
    column: r.Column = None,
    time_format: r.TimeFormat = None,
    estimated: r.Estimated = False,
    track_layer: r.TrackLayer = None,
    limit: r.Limit = None,
    as_json: o.AsJson = False,
    out: o.Out = None,
) -> None:
    """What a file is, and what would come in: layers, counts, acres, times, and what is left out or doubtful.

    Nothing is changed.
    """
    track = r.reading_from(column, time_format=time_format, estimated=estimated, track_layer=track_layer, limit=limit)
    from gladebook.io.write import as_json as json_text
    from gladebook.jobs.look import Reading, look_at
    from gladebook.view.looks import look_document, look_words

    found = look_at(
        file,
        reading=Reading(crs=crs, layer=layer, name_field=name_field, repair=repair, track=track),
    )
    text = json_text(look_document(found)) if as_json else "\n".join([*look_words(found), ""])
    answer(text, out=out)
