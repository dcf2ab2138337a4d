"""KML and KMZ: boundaries and tracks."""
