"""The map library from its installed package."""

import re
from functools import lru_cache
from importlib import metadata, resources

from gladebook.errors import MissingExtra

__all__ = ["leaflet_files"]


@lru_cache(maxsize=1)
def leaflet_files() -> tuple[str, str, str]:
    """Script, style sheet and licence of the installed Leaflet; the style sheet without the images that it names.

    Raises
    ------
    MissingExtra
        Where it is not installed.
    """
    try:
        folder = resources.files("js_lib_leaflet").joinpath("static", "js_lib_leaflet")
        script = folder.joinpath("leaflet.js").read_text(encoding="utf-8")
        style = folder.joinpath("leaflet.css").read_text(encoding="utf-8")
        files = metadata.files("django-js-lib-leaflet") or []
        licence = next(f.read_text() for f in files if f.name.upper().startswith("LICENSE"))
    except (ModuleNotFoundError, FileNotFoundError, StopIteration, metadata.PackageNotFoundError):
        raise MissingExtra("The map library is not installed. Run: pip install django-js-lib-leaflet") from None
    return re.sub(r"//# sourceMappingURL=\S+", "", script), re.sub(r"url\((?!#)[^)]*\)", "none", style), licence
