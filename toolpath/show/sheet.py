"""The machine sheet: one HTML file to print and take to the machine."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

from toolpath.show.scene import Scene
from toolpath.show.sheet_data import SheetData, sheet_data
from toolpath.show.words import plain
from toolpath.show.zero_picture import draw_zero

if TYPE_CHECKING:
    import jinja2

K = TypeVar("K")

TEMPLATE = "sheet.html.j2"


@dataclass(frozen=True, slots=True, kw_only=True)
class Begun:
    """What a sheet says before the pictures of the job are put in."""

    data: SheetData
    zeros: dict[int, bytes]
    """The picture of the zero of each set-up; none on a sheet of words only."""


def begin_sheet(scene: Scene, *, pictures: bool) -> Begun:
    """All of a sheet that can be made while the pictures of the job are drawn.

    scene
        The planned and judged job. If it is refused the sheet says so first, with every reason.
    pictures
        Whether it will have any; without it is a sheet of words only.
    """
    data = sheet_data(scene)
    zeros = {each.number: draw_zero(scene, each.side) for each in data.setups if pictures}
    return Begun(data=data, zeros=zeros)


def make_sheet(begun: Begun, pictures: Mapping[str, bytes]) -> str:
    """The sheet of a job as one HTML text that refers to nothing outside itself.

    pictures
        PNG by file name, as `toolpath.show.pictures.draw_all` names them; they are put into the
        text.

    Names from the job are escaped and made plain, so that none can change the sheet. The same
    scene and pictures give the same text: there is no date in it, only a box for one.
    """
    zeros = {each.number: "" for each in begun.data.setups} | _embedded(begun.zeros)
    text = _environment().get_template(TEMPLATE)
    return text.render(sheet=begun.data, zeros=zeros, pictures=_embedded(pictures))


def _embedded(pictures: Mapping[K, bytes]) -> dict[K, str]:
    return {name: _uri(png) for name, png in pictures.items()}


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
