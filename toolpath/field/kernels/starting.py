"""What all compiled loops need of their library, loaded ahead."""

from __future__ import annotations

import numpy as np

from toolpath.field.kernels.threading import thread_through


def start() -> None:
    """Have the library load the rest of itself, which it does at the first call of any kernel in a
    fifth of a second: before this process is copied, once for both."""
    low = np.zeros(2)
    thread_through(np.arange(2.0), low, low, np.zeros(2, dtype=np.int64), np.empty(2))
