"""Tracks, how they are cut into drives, and the ground that a boom swept along them."""
