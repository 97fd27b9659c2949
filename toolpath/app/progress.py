"""How long work tells the outside how far it is."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[str], None]
"""Called with a few words at the start of each step; it must not raise."""


def silent(step: str) -> None:
    """A progress that says nothing."""
