"""Where a photo from above comes from while there is internet."""

from typing import Final

__all__ = ["PHOTO", "PHOTO_HOST"]

# Public domain and keyless: imagery of the U.S. Geological Survey. Fetched only once a user switches it on.
PHOTO_HOST: Final = "https://basemap.nationalmap.gov"
PHOTO: Final = {
    "url": f"{PHOTO_HOST}/arcgis/rest/services/USGSImageryOnly/MapServer/tile/{{z}}/{{y}}/{{x}}",
    "credit": "Photo: U.S. Geological Survey, public domain",
}
