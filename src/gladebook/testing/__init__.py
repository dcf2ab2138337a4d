"""Synthetic plots, drives, whole applications and receivers' errors, with known answers."""

from gladebook.testing.applications import (
    PLACE,
    Planted,
    Simulated,
    as_plot,
    as_track,
    draw_application,
    moved_back,
    swept,
    truly_missed,
)
from gladebook.testing.drives import Leg, Points, drive, parallel_passes, plot_on, rectangle, track_on
from gladebook.testing.driving import Habits
from gladebook.testing.receivers import OPEN_SKY, UNDER_LEAVES, WOODLAND_EDGE, Receiver, error_of, heard

__all__ = [
    "OPEN_SKY",
    "PLACE",
    "UNDER_LEAVES",
    "WOODLAND_EDGE",
    "Habits",
    "Leg",
    "Planted",
    "Points",
    "Receiver",
    "Simulated",
    "as_plot",
    "as_track",
    "draw_application",
    "drive",
    "error_of",
    "heard",
    "moved_back",
    "parallel_passes",
    "plot_on",
    "rectangle",
    "swept",
    "track_on",
    "truly_missed",
]
