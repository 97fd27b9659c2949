"""Outlines from SVG drawings.

Frame: the page seen from the front, its lower left corner at 0, 0, x right and y up, millimetres
at 96 pixels to the inch. Arcs of circles stay true arcs; Bézier curves and other ellipses become
chords within `Tolerances.flatten` (see `toolpath.drawing.curves` for the side). Only the shapes
count: how they are filled and how wide they are stroked does not.

A file may come from anywhere: it is taken apart without document types of its own, entities or
anything from outside it, and everything that repeats or nests in it is counted.
"""

from __future__ import annotations

import difflib
import math
import re
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from toolpath.drawing.chain import chain
from toolpath.drawing.outline import FloatArray, Outline
from toolpath.drawing.svg_page import (
    page_map,
    read_length,
    read_transform,
    translation,
    view_map,
    view_size,
)
from toolpath.drawing.svg_pen import (
    Pen,
    Point,
    draw_ellipse,
    draw_polygon,
    draw_rect,
    read_points,
)
from toolpath.errors import DrawingError

_MOST_BYTES = 20_000_000
_MOST_ELEMENTS = 50_000  # of one outline, every use of an element counted again
_DEEPEST = 100  # groups and uses within each other; a use of itself never ends
_SVG = "{http://www.w3.org/2000/svg}"
_HREF = "{http://www.w3.org/1999/xlink}href"
_SHAPES = ("path", "rect", "circle", "ellipse", "polygon", "polyline", "line")
_GROUPS = ("g", "a")
_SILENT = (
    *("title", "desc", "metadata", "style", "script", "defs", "symbol", "clipPath", "mask"),
    *("pattern", "marker", "linearGradient", "radialGradient", "filter", "view", "animate"),
    *("animateTransform", "animateMotion", "set"),
)
_MENDS = {
    "text": "turn the text into paths",
    "image": "trace its outline and take it out of the group",
    "switch": "take what is meant out of it",
    "foreignObject": "take it out of the group",
}
_STRONG = re.compile(r"(?<![\w-])(display|visibility|transform|clip-path|mask|d|r)\s*:")


def read_svg(path: Path, name: str, *, join: float) -> Outline:
    """Read the closed outlines of one element or group of an SVG drawing.

    Parameters
    ----------
    path : Path
        The drawing, plain UTF-8 text.
    name : str
        The id of a shape, a group, a use of one of them, or the svg element itself.
    join : float
        Ends nearer than this, mm, are one point.

    Returns
    -------
    Outline
        Regions in mm; loops within loops are holes, whatever the fill rule. Chords of curves and
        joined gaps may lie off by `Loop.error`, for which `Loop.flatten` makes up.

    Raises
    ------
    DrawingError
        The file cannot be read as SVG, its page has no size, no element or several have that id,
        or what it names is hidden, clipped, never drawn, holds anything but shapes (text, images),
        does not close, or is larger or deeper than any drawing of an outline.
    """
    try:
        drawing = _Drawing.of(_parsed(path))
        element = drawing.named(name)
        walk = _Walk(drawing=drawing, pen=Pen())
        with np.errstate(all="ignore"):  # what overflows is refused by the pen
            walk.visit(element, _place_of(drawing, element), 0)
        outline = chain(walk.pen.runs, join, f'id "{name}"')
    except DrawingError as error:
        raise DrawingError(f"{path.name}: {error}") from error
    if not outline:
        raise DrawingError(f'{path.name}: id "{name}" holds no outline: draw a closed shape in it')
    return outline


# ---- the file --------------------------------------------------------------------------------


def _parsed(path: Path) -> Any:
    """The root element; nothing outside the file is looked at."""
    from lxml import etree

    text = _text(path)
    parser = etree.XMLParser(
        resolve_entities=False,
        no_network=True,
        load_dtd=False,
        huge_tree=False,
        remove_comments=True,
        remove_pis=True,
        encoding="utf-8",
    )
    try:
        root = etree.fromstring(text.encode("utf-8"), parser)
    except (etree.XMLSyntaxError, ValueError) as error:
        raise DrawingError(
            f"cannot be read as SVG ({str(error)[:120]}): it is cut short, broken or another kind "
            "of file; save the drawing as plain SVG"
        ) from error
    if _tag(root) != "svg":
        raise DrawingError("is no SVG drawing: save it as plain SVG, not packed")
    return root


def _text(path: Path) -> str:
    try:
        size = path.stat().st_size
        if size > _MOST_BYTES:
            raise DrawingError(
                f"{size / 1e6:.0f} MB is more than the {_MOST_BYTES / 1e6:.0f} MB that are read: "
                "save the outlines alone"
            )
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise DrawingError(f"cannot be read ({error.strerror}): check its name") from error
    except UnicodeDecodeError as error:
        raise DrawingError("is not UTF-8 text: save it as plain SVG, not packed") from error
    kinds = text.count("<!DOCTYPE")
    kind = text.partition("<!DOCTYPE")[2].partition(">")[0]
    if "<!ENTITY" in text or "[" in kind or kinds > 1:
        raise DrawingError("it holds entities or a document type of its own: save as plain SVG")
    return text


def _tag(element: Any) -> str:
    """The name of an SVG element; empty for what belongs to something else."""
    tag = element.tag if isinstance(element.tag, str) else ""
    if tag.startswith(_SVG):
        return tag.removeprefix(_SVG)
    return "" if "{" in tag else tag


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Drawing:
    """The elements of a file by their ids, and what its style sheets hide or move."""

    root: Any
    ids: dict[str, list[Any]] = field(repr=False)
    styled: frozenset[str]
    """Class names, ``#id``s, element names and ``*`` of rules that change more than looks."""

    @classmethod
    def of(cls, root: Any) -> _Drawing:
        """Index the elements of a drawing."""
        ids: defaultdict[str, list[Any]] = defaultdict(list)
        sheets = []
        for element in root.iter():
            if not isinstance(element.tag, str):
                raise DrawingError("it holds an entity: save as plain SVG")
            if element.get("id") is not None:
                ids[element.get("id")].append(element)
            if _tag(element) == "style":
                sheets.append("".join(element.itertext()))
        return cls(root=root, ids=dict(ids), styled=_styled("".join(sheets)))

    def named(self, name: str) -> Any:
        """The one element of that id."""
        found = self.ids.get(name, [])
        if len(found) == 1:
            return found[0]
        if found:
            lines = ", ".join(str(element.sourceline) for element in found[:5])
            raise DrawingError(
                f'{len(found)} elements have the id "{name}" (lines {lines}): give each its own'
            )
        known = [key[:60] for key in list(self.ids)[:1000]]
        if not known:
            raise DrawingError(f'no element has the id "{name}", nor has any an id: give it one')
        near = difflib.get_close_matches(name[:60], known, n=1, cutoff=0.5)
        hint = f'; did you mean "{near[0]}"?' if near else ""
        shown = ", ".join(f'"{key}"' for key in known[:30])
        raise DrawingError(f'no element has the id "{name}"; there are {shown}{hint}')


def _styled(sheet: str) -> frozenset[str]:
    """What the rules of a style sheet choose that hide, move or reshape it."""
    chosen: set[str] = set()
    first, *rest = sheet.split("/*")
    bare = first + "".join(part.partition("*/")[2] for part in rest)
    for rule in bare.split("}"):
        selector, _, body = rule.rpartition("{")
        if _STRONG.search(body.casefold()):
            chosen.update(re.findall(r"[.#]?[\w-]+|\*", selector))
    return frozenset(chosen)


# ---- walking ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Place:
    """Where something is drawn: the map of its user units to mm, and the size in user units of
    what percentages are of."""

    matrix: FloatArray = field(repr=False)
    size: Point

    def moved(self, by: FloatArray) -> _Place:
        """The place within a map of its own."""
        return replace(self, matrix=self.matrix @ by)


def _page(root: Any) -> _Place:
    """Where the children of the outermost svg element are drawn."""
    view = root.get("viewBox")
    if _said(root, "transform") is not None:
        raise DrawingError("its svg element has a transform: put it on a group inside")
    matrix = page_map(_said(root, "width"), _said(root, "height"), view, _fit(root))
    if view is not None:
        return _Place(matrix=matrix, size=view_size(view))
    return _Place(matrix=matrix, size=(_length(root, "width", 0.0), _length(root, "height", 0.0)))


def _fit(element: Any) -> str | None:
    fit = element.get("preserveAspectRatio")
    return None if fit is None else str(fit)


def _place_of(drawing: _Drawing, element: Any) -> _Place:
    """Where the parents of an element put it; for the outermost one, its page."""
    place = _page(drawing.root)
    if element is drawing.root:
        return place
    for outer in [*reversed(list(element.iterancestors())), element]:
        _check_drawn(drawing, outer)
        if outer is drawing.root or outer is element:
            continue
        tag = _tag(outer)
        if tag not in (*_GROUPS, "svg"):
            raise DrawingError(
                f"{_called(element)} stands in {_called(outer)}, which is not drawn as it stands: "
                "move it into a group, or name what uses it"
            )
        place = _inside(outer, place)
    return place


def _inside(element: Any, place: _Place, size: Point | None = None) -> _Place:
    """Where the children of a group, or of an svg or symbol element, are drawn; `size` is the
    viewport that a use asks for."""
    place = place.moved(_transform(element))
    tag = _tag(element)
    if tag in _GROUPS:
        return place
    if tag == "svg":
        x, y = _length(element, "x", place.size[0]), _length(element, "y", place.size[1])
        place = place.moved(translation(x, y))
    if size is None:
        size = (
            _length(element, "width", place.size[0], place.size[0]),
            _length(element, "height", place.size[1], place.size[1]),
        )
    view = element.get("viewBox")
    if view is None:
        return replace(place, size=size)
    if not (size[0] > 0.0 and size[1] > 0.0):
        raise DrawingError(f"{_called(element)} has no size: give it a width and height")
    return _Place(matrix=place.matrix @ view_map(size, view, _fit(element)), size=view_size(view))


@dataclass(slots=True, kw_only=True, eq=False)
class _Walk:
    """One walk through what an id names, drawing it with the pen."""

    drawing: _Drawing
    pen: Pen
    seen: int = 0

    def visit(self, element: Any, place: _Place, depth: int) -> None:
        """Draw an element that stands at a place."""
        if depth > _DEEPEST:
            raise DrawingError(
                f"{_called(element)} lies more than {_DEEPEST} groups or uses deep, or uses "
                "itself: replace it with a copy"
            )
        tag = _tag(element)
        _check_drawn(self.drawing, element)
        if tag in _SHAPES:
            self._draw(element, place.moved(_transform(element)))
        elif tag == "use":
            self._use(element, place, depth)
        elif tag in (*_GROUPS, "svg"):
            within = place if element is self.drawing.root else _inside(element, place)
            self._children(element, within, depth)
        else:
            mend = _MENDS.get(tag, "take it out of the group, or turn it into paths")
            raise DrawingError(f"{_called(element)} cannot be part of an outline: {mend}")

    def _children(self, element: Any, place: _Place, depth: int) -> None:
        for child in element:
            self.seen += 1
            if self.seen > _MOST_ELEMENTS:
                raise DrawingError(
                    f"there are more than {_MOST_ELEMENTS} elements in it, uses counted again: "
                    "draw the outlines alone"
                )
            if _tag(child) and _tag(child) not in _SILENT:
                self.visit(child, place, depth + 1)

    def _use(self, element: Any, place: _Place, depth: int) -> None:
        target = self._target(element)
        x, y = _length(element, "x", place.size[0]), _length(element, "y", place.size[1])
        place = place.moved(_transform(element) @ translation(x, y))
        if _tag(target) not in ("svg", "symbol"):
            self.visit(target, place, depth + 1)
            return
        _check_drawn(self.drawing, target)
        asked = target if element.get("width") is None else element
        wide = _length(asked, "width", place.size[0], place.size[0])
        asked = target if element.get("height") is None else element
        high = _length(asked, "height", place.size[1], place.size[1])
        self._children(target, _inside(target, place, (wide, high)), depth + 1)

    def _target(self, element: Any) -> Any:
        link = (element.get("href") or element.get(_HREF) or "").strip()
        if not link.startswith("#"):
            raise DrawingError(
                f'{_called(element)} uses "{link[:60]}", which is not in this file: put a copy in'
            )
        return self.drawing.named(link[1:])

    def _draw(self, element: Any, place: _Place) -> None:
        self.pen.matrix = place.matrix
        try:
            _drawn(self.pen, element, place)
        except DrawingError as error:
            raise DrawingError(
                f"{_called(element)} cannot be part of an outline: {error}"
            ) from error


def _drawn(pen: Pen, element: Any, place: _Place) -> None:
    """Draw one basic shape or path."""
    tag = _tag(element)
    across, up = place.size
    mean = math.hypot(across, up) / math.sqrt(2.0)  # SVG 1.1, 7.10: what other percentages are of
    if tag == "path":
        pen.path(element.get("d") or "")
    elif tag == "rect":
        corner = (_length(element, "x", across), _length(element, "y", up))
        size = (_length(element, "width", across), _length(element, "height", up))
        draw_rect(pen, corner, size, _radii(element, place))
    elif tag in ("circle", "ellipse"):
        centre = (_length(element, "cx", across), _length(element, "cy", up))
        r = _length(element, "r", mean)
        draw_ellipse(pen, centre, (r, r) if tag == "circle" else _radii(element, place))
    elif tag == "line":
        ends = [(_length(element, f"x{i}", across), _length(element, f"y{i}", up)) for i in (1, 2)]
        draw_polygon(pen, ends, closed=False)
    else:
        draw_polygon(pen, read_points(element.get("points") or ""), closed=tag == "polygon")


def _radii(element: Any, place: _Place) -> Point:
    """rx and ry; where one is absent it is the other."""
    given = [
        None if _said(element, name) in (None, "auto") else _length(element, name, whole)
        for name, whole in zip(("rx", "ry"), place.size, strict=True)
    ]
    for radius in given:
        if radius is not None and radius < 0.0:
            raise DrawingError(f"its radius of {radius:g} is below 0")
    rx, ry = given
    return (rx if rx is not None else ry or 0.0, ry if ry is not None else rx or 0.0)


# ---- what an element says --------------------------------------------------------------------


def _called(element: Any) -> str:
    """How messages call an element."""
    name = element.get("id")
    line = f" in line {element.sourceline}" if element.sourceline else ""
    tag = _tag(element) or "element"
    return f'the {tag} "{name[:60]}"' if name else f"the {tag}{line}"


def _style(element: Any) -> dict[str, str]:
    """What an element's own style says, which rules over its attributes."""
    parts = (part.partition(":") for part in (element.get("style") or "")[:10_000].split(";"))
    return {
        key.strip().casefold(): value.replace("!important", "").strip()
        for key, sign, value in parts
        if sign
    }


def _said(element: Any, name: str) -> str | None:
    value = _style(element).get(name, element.get(name))
    return None if value is None else str(value)


def _length(element: Any, name: str, whole: float, default: float = 0.0) -> float:
    text = _said(element, name)
    return default if text is None or text.strip() == "auto" else read_length(text, whole)


def _transform(element: Any) -> FloatArray:
    for name in ("transform", "transform-origin", "d", "translate", "rotate", "scale"):
        if _style(element).get(name, "none") != "none":
            raise DrawingError(
                f"{_called(element)} says its {name} as style: save as plain SVG, with attributes"
            )
    if element.get("transform-origin") is not None:
        raise DrawingError(f"{_called(element)} has a transform-origin: apply its transform")
    try:
        return read_transform(element.get("transform") or "")
    except DrawingError as error:
        raise DrawingError(f"{_called(element)}: {error}") from error


def _check_drawn(drawing: _Drawing, element: Any) -> None:
    """Refuse what a picture of the drawing would not show as it stands."""
    if _said(element, "display") == "none" or _said(element, "visibility") in (
        "hidden",
        "collapse",
    ):
        raise DrawingError(f"{_called(element)} is hidden: show it, or delete it")
    for name in ("clip-path", "mask"):
        if (_said(element, name) or "none") != "none":
            raise DrawingError(
                f"{_called(element)} is cut by a {name}: cut the shape itself and take it off"
            )
    if drawing.styled and any(word in drawing.styled for word in _selectors(element)):
        raise DrawingError(
            f"a style sheet hides, moves or reshapes {_called(element)}: save as plain SVG, with "
            "attributes"
        )


def _selectors(element: Any) -> Iterator[str]:
    """The words by which a style sheet may choose an element."""
    yield from ("*", _tag(element), f"#{element.get('id')}")
    yield from (f".{word}" for word in (element.get("class") or "")[:1000].split())
