"""Moves of a cutter, arc fitting and the machine clock."""
