"""Plots: boundaries, obstacles, acreage and how sure it is."""
