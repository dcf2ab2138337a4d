"""Calibration: what the sprayer or spreader puts out, from what was timed, caught and measured."""
