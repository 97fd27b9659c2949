"""Plans router cuts in clear-resin castings and proves them clear of the embedded pieces."""

__version__ = "0.2.0"
