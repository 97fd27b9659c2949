"""The machine sheet: one HTML file to print and take to the machine."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from toolpath.show.scene import Scene
from toolpath.show.sheet_data import SetUp, sheet_data
from toolpath.show.words import plain
from toolpath.show.zero_picture import draw_zero

if TYPE_CHECKING:
    import jinja2

TEMPLATE = "sheet.html.j2"


def make_sheet(scene: Scene, pictures: Mapping[str, bytes] | None) -> str:
    """The sheet of a job as one HTML text that refers to nothing outside itself.

    Parameters
    ----------
    scene
        The planned and judged job. If it is refused the sheet says so first, with every reason.
    pictures
        PNG by file name, as `toolpath.show.pictures.draw_all` names them; they are put into the
        text. None for a sheet of words only.

    Names from the job are escaped and made plain, so that none can change the sheet. The same
    scene and pictures give the same text: there is no date in it, only a box for one.
    """
    data = sheet_data(scene)
    zeros = {setup.number: _zero(scene, setup, pictures) for setup in data.setups}
    text = _environment().get_template(TEMPLATE)
    return text.render(sheet=data, zeros=zeros, pictures=_embedded(pictures))


def _zero(scene: Scene, setup: SetUp, pictures: Mapping[str, bytes] | None) -> str:
    """The zero picture of a set-up; empty on a sheet of words only."""
    return "" if pictures is None else _uri(draw_zero(scene, setup.side))


def _embedded(pictures: Mapping[str, bytes] | None) -> dict[str, str]:
    return {name: _uri(png) for name, png in (pictures or {}).items()}


def _uri(png: bytes) -> str:
    """A picture as text that stands in the page itself; nothing in it needs escaping."""
    import markupsafe

    return markupsafe.Markup("data:image/png;base64," + base64.b64encode(png).decode("ascii"))


def _environment() -> jinja2.Environment:
    """Templates of this package; everything that goes into a page is made plain and escaped."""
    import jinja2

    return jinja2.Environment(
        loader=jinja2.PackageLoader("toolpath.show", "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        finalize=_plain,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _plain(value: Any) -> Any:
    """Text made plain; anything else as it is."""
    return plain(value) if type(value) is str else value
