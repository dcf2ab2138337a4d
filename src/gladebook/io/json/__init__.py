"""GeoJSON, whole or line by line: boundaries and tracks."""
