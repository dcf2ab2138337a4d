"""GPX: boundaries and tracks, a million points at a time."""
