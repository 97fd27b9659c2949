"""Outlines with true arcs, and the readers that bring them in."""
