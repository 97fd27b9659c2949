import numpy as np
import pytest


def _ring(count, radius=10.0, centre=(3.0, 4.0), first=0.0, sweep=2 * np.pi, ends=False):
    angle = first + sweep * np.arange(count + ends) / count
    return np.column_stack([np.cos(angle), np.sin(angle)]) * radius + centre


@pytest.fixture(scope="session")
def ring():
    """Vertices of a circle or arc: ring(chords, radius, centre, first, sweep, ends)."""
    return _ring
