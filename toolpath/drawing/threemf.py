"""How many triangles a 3MF file places, counted from its own words.

A count made apart from the reader of the mesh: where the two differ, bodies were left out or read
twice. Bodies repeat by components within components (3MF Core Specification, 4.2), so that a small
file may hold more than any memory; they are counted before any is placed.
"""

from __future__ import annotations

import zipfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from toolpath.errors import DrawingError

_DEEPEST = 40  # components within components; one that holds itself never ends
_Key = tuple[str, str]  # the part of the package and the id of an object in it


@dataclass(slots=True, kw_only=True)
class _Found:
    """What the parts of a package hold: the triangles and the components of each object."""

    triangles: dict[_Key, int] = field(default_factory=dict)
    components: dict[_Key, list[_Key]] = field(default_factory=dict)
    items: list[_Key] = field(default_factory=list)
    counted: dict[_Key, int] = field(default_factory=dict)


def triangles_placed(path: Path) -> int:
    """Triangles of all bodies that the file places, each as often as it is placed.

    Raises
    ------
    DrawingError
        A document type or entities of its own, a component or item that names nothing, or
        components that nest deeper than any drawing's or hold themselves. What a broken package
        raises besides is the parser's own.
    """
    found = _Found()
    with zipfile.ZipFile(path) as package:
        names = package.namelist()
        first = next(name for name in names if "3d/3dmodel.model" in name.lower())
        waiting, read = [first], set[str]()
        while waiting:
            part = waiting.pop()
            if part in read or part not in names:
                continue
            read.add(part)
            waiting += _read_part(package, part, found, first=part == first)
    return sum(_count(found, key, 0) for key in found.items)


def _read_part(package: zipfile.ZipFile, part: str, found: _Found, *, first: bool) -> set[str]:
    """Note the objects of a part, of the first one its items too; the parts that it names."""
    from lxml import etree

    named = set()
    tags = [f"{{*}}{name}" for name in ("model", "object", "triangle", "component", "item")]
    with package.open(part) as file:
        events = etree.iterparse(
            file,
            events=("start", "end"),
            tag=tags,
            resolve_entities=False,
            load_dtd=False,
            no_network=True,
            huge_tree=True,
        )
        key = (part, "")
        for event, element in events:
            tag = etree.QName(element).localname
            if event == "start" and tag == "model" and element.getroottree().docinfo.doctype:
                raise DrawingError("it holds a document type of its own: export it again")
            if event == "start" and tag == "object":
                key = (part, element.get("id", ""))
                found.triangles[key] = 0
            if event == "end" and tag == "triangle":
                found.triangles[key] += 1
            if event == "end" and tag in ("component", "item"):
                target = _target(element, part)
                named.add(target[0])
                if tag == "component":
                    found.components.setdefault(key, []).append(target)
                elif first:
                    found.items.append(target)
            if event == "end":
                element.clear()
    return named


def _target(element: Any, part: str) -> _Key:
    """The object that a component or an item places, in this part or another."""
    other = next((text for name, text in element.items() if name.endswith("}path")), None)
    return (part if other is None else other.strip("/"), element.get("objectid", ""))


def _count(found: _Found, key: _Key, depth: int) -> int:
    if depth > _DEEPEST:
        raise DrawingError(
            f"its components nest deeper than {_DEEPEST} or hold themselves: export the piece as "
            "one mesh"
        )
    if key not in found.triangles:
        raise DrawingError(f'it places an object "{key[1][:40]}" that it does not hold')
    if key not in found.counted:
        inner = found.components.get(key, ())
        found.counted[key] = found.triangles[key] + sum(
            _count(found, each, depth + 1) for each in inner
        )
    return found.counted[key]
