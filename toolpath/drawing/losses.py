"""What a library says, in its log, that it left out of a file.

It goes on without what it leaves out; a drawing with less on it than was drawn would be answered.
"""

from __future__ import annotations

import logging
import re
from collections.abc import Iterator
from contextlib import contextmanager

from toolpath.errors import DrawingError


class _Ear(logging.Handler):
    """Holds the first message that tells of a loss."""

    def __init__(self, telling: re.Pattern[str]) -> None:
        super().__init__(logging.WARNING)
        self.telling, self.heard = telling, ""

    def emit(self, record: logging.LogRecord) -> None:
        message = record.getMessage()
        if not self.heard and self.telling.search(message):
            self.heard = message


@contextmanager
def refusing_losses(name: str, telling: re.Pattern[str]) -> Iterator[None]:
    """While a library reads: what it logs under `name` stays off the screen, and a message in
    which `telling` is found becomes a DrawingError once it is done. It is heard even where others
    have silenced that log."""
    logger, ear = logging.getLogger(name), _Ear(telling)
    before = logger.propagate, logger.disabled, logger.level
    logger.addHandler(ear)
    logger.propagate, logger.disabled = False, False
    logger.setLevel(logging.WARNING)
    try:
        yield
    finally:
        logger.removeHandler(ear)
        logger.propagate, logger.disabled = before[:2]
        logger.setLevel(before[2])
    if ear.heard:
        raise DrawingError(
            f"part of it would be left out ({ear.heard[:120]}): it is broken; save it again"
        )
