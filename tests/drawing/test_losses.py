"""What a library only logs, beside Python's own logging."""

import logging
import re

import pytest

from toolpath.drawing.losses import refusing_losses
from toolpath.errors import DrawingError

LOG = logging.getLogger("a-library")


@pytest.fixture(autouse=True)
def heard(monkeypatch) -> None:
    """Whatever configured logging before: that disables all logs there are (logging.config)."""
    monkeypatch.setattr(LOG, "disabled", False)


@pytest.mark.parametrize("how", ["disabled", "level"])
def test_a_silenced_log_is_heard_too(monkeypatch, how) -> None:
    monkeypatch.setattr(LOG, how, True if how == "disabled" else logging.CRITICAL)
    with (
        pytest.raises(DrawingError, match="left out"),
        refusing_losses("a-library", re.compile("ignored")),
    ):
        LOG.warning("line 7 ignored")
    assert LOG.disabled is (how == "disabled")


def test_a_loss_is_refused_and_the_rest_is_kept_off_the_screen(caplog) -> None:
    with (
        pytest.raises(DrawingError, match=r"left out \(line 7 ignored\)"),
        refusing_losses("a-library", re.compile("ignored")),
    ):
        LOG.warning("odd name")
        LOG.warning("line %d ignored", 7)
        LOG.warning("line 9 ignored")
    assert not caplog.records
    LOG.warning("as before")
    assert caplog.messages == ["as before"] and not LOG.handlers


def test_what_loses_nothing_is_no_error(caplog) -> None:
    with refusing_losses("a-library", re.compile("ignored")):
        LOG.warning("odd name")
        LOG.info("ignored")
    assert not caplog.records


def test_an_error_goes_its_way() -> None:
    with pytest.raises(KeyError), refusing_losses("a-library", re.compile("ignored")):
        LOG.warning("ignored")
        raise KeyError("x")
    assert not LOG.handlers and LOG.propagate
