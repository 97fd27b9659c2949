import math

import numpy as np
import pytest

from toolpath.drawing.outline import Err
from toolpath.drawing.svg import read_svg
from toolpath.errors import DrawingError


def read(path, name="a", join=0.01):
    return read_svg(path, name, join=join)


def bounds(regions):
    boxes = np.array([region.polygon(1e-5, Err.OUTWARD).bounds for region in regions])
    return (*boxes[:, :2].min(axis=0), *boxes[:, 2:].max(axis=0))


# The page of the fixture: 100 by 50 mm, half a millimetre to the unit, y down from the top.
@pytest.mark.parametrize(
    ("body", "box"),
    [
        ('<rect id="a" x="20" y="10" width="40" height="30"/>', (10, 30, 30, 45)),
        ('<rect id="a" x="10%" y="10%" width="20%" height="30%"/>', (10, 30, 30, 45)),
        ('<circle id="a" cx="20" cy="80" r="20"/>', (0, 0, 20, 20)),
        ('<ellipse id="a" cx="40" cy="80" rx="40" ry="20"/>', (0, 0, 40, 20)),
        ('<polygon id="a" points="0,100 200,100 0,0"/>', (0, 0, 100, 50)),
        ('<polyline id="a" points="0,100 200,100 0,0 0 100"/>', (0, 0, 100, 50)),
        ('<path id="a" d="M0 100H20V80H0z"/>', (0, 0, 10, 10)),
        ('<g id="a" transform="translate(20 0)"><g transform="scale(2)">'
         '<rect width="10" height="10" transform="rotate(90)"/></g></g>', (0, 40, 10, 50)),
        ('<g transform="translate(20 0)"><g transform="scale(2)">'
         '<rect id="a" width="10" height="10"/></g></g>', (10, 40, 20, 50)),
        ('<defs><rect id="r" width="10" height="20"/></defs>'
         '<use id="a" xlink:href="#r" x="4" y="60" transform="scale(2)"/>', (4, -30, 14, -10)),
        ('<symbol id="s" viewBox="0 0 1 1"><rect width="1" height="1"/></symbol>'
         '<use id="a" href="#s" x="20" y="20" width="40" height="20"/>', (15, 30, 25, 40)),
        ('<svg x="20" y="20" width="40" height="40" viewBox="0 0 10 10">'
         '<rect id="a" width="50%" height="10"/></svg>', (10, 20, 20, 40)),
        ('<g id="a"><line x1="0" y1="0" x2="0" y2="20"/><polyline points="0,20 20,20 0,0"/></g>',
         (0, 40, 10, 50)),
        ('<rect id="a" x="99" width="40" height="30" style="x: 20; y:10px"/>', (10, 30, 30, 45)),
    ],
)  # fmt: skip
def test_shapes_lie_where_the_page_shows_them(svg, body, box):
    assert bounds(read(svg(body))) == pytest.approx(box, abs=0.002)


def test_sizes_are_physical(svg):
    # CSS Values and Units, 6.2: a pixel is 1/96 in.
    body = '<circle id="a" cx="1in" cy="1in" r="0.5in"/>'
    (region,) = read(svg(body, head='width="960" height="192px"'))
    assert region.area == pytest.approx(math.pi * 12.7**2, rel=1e-12)
    assert bounds([region]) == pytest.approx((12.7, 12.7, 38.1, 38.1), abs=1e-4)


def test_loops_nest_whatever_the_fill_rule(svg):
    body = (
        '<g id="a" fill-rule="nonzero"><circle cx="100" cy="50" r="40"/>'
        '<path d="M80 30h40v40h-40z M90 40h20v20h-20z"/></g>'
    )
    outer, inner = sorted(read(svg(body)), key=lambda region: -region.area)
    assert outer.area == pytest.approx(math.pi * 400 - 400)
    assert inner.area == pytest.approx(100)


def test_true_arcs_stay_arcs_when_turned_mirrored_and_scaled(svg):
    body = '<g transform="rotate(30) scale(-2 2)"><circle id="a" r="10"/></g>'
    (region,) = read(svg(body))
    assert region.outer.error == 0.0 and len(region.outer.points) == 2
    assert region.area == pytest.approx(math.pi * 100)
    (region,) = read(svg('<circle id="a" r="10" transform="scale(2 1)"/>'))
    assert region.outer.error == 0.0005
    # The flattening makes up for the error on the side asked for.
    true = math.pi * 10 * 5
    assert region.polygon(0.0005, Err.INWARD).area < true < region.polygon(0.0005, Err.OUTWARD).area


def test_what_a_group_is_silent_about(svg):
    body = (
        '<g id="a"><title>rim</title><defs><text>x</text></defs><desc/><!-- note -->'
        '<other:thing xmlns:other="urn:x"/><rect width="20" height="20"/></g><text>elsewhere</text>'
    )
    assert len(read(svg(body))) == 1


def test_a_plain_document_type_and_a_byte_order_mark_are_taken(svg):
    before = (
        '\ufeff<?xml version="1.0" encoding="UTF-8"?>\n<!DOCTYPE svg PUBLIC '
        '"-//W3C//DTD SVG 1.1//EN" "http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">\n'
    )
    assert len(read(svg('<rect id="a" width="20" height="20"/>', before=before))) == 1


RECT = '<rect width="20" height="20"/>'
WRONG = [
    ('<path id="a" d="M0 0h20v20"/>', r'id "a": the outline is open between \(0, 50\) mm'),
    ('<g id="a"><text>12</text></g>', "the text in line 1 .* turn the text into paths"),
    ('<g id="a"><image id="photo"/></g>', 'the image "photo" .* trace its outline'),
    ('<g id="a"><switch/></g>', "the switch"),
    ('<g id="a"><flowRoot/></g>', "the flowRoot in line 1 cannot be part"),
    ('<g id="a"/>', 'id "a" holds no outline'),
    ("<g/>", 'no element has the id "a", nor has any'),
    ('<g id="rim"/>', 'no element has the id "a"; there are "rim"'),
    (f'<g id="a">{RECT}</g><g id="a"/>', r'2 elements have the id "a" \(lines 1, 1\)'),
    (f'<g id="a" display="none">{RECT}</g>', 'the g "a" is hidden: show it, or delete it'),
    (f'<g display="none"><g id="a">{RECT}</g></g>', "the g in line 1 is hidden"),
    ('<g id="a"><rect id="b" style="visibility:hidden"/></g>', 'the rect "b" is hidden'),
    (f'<g id="a" clip-path="url(#c)">{RECT}</g>', "cut by a clip-path"),
    (f'<defs><g id="a">{RECT}</g></defs>', "stands in the defs in line 1, which is not drawn"),
    (f'<symbol id="a">{RECT}</symbol>', "the symbol .* cannot be part"),
    (f'<style>.st0{{display:none}}</style><g id="a" class="x st0">{RECT}</g>', "a style sheet"),
    (f'<style>/*}}*/ g, p {{ Transform : scale(2) }}</style><g id="a">{RECT}</g>', "a style sheet"),
    (f'<g id="a" style="transform: scale(2)">{RECT}</g>', "says its transform as style"),
    (f'<g id="a" transform="turn(2)">{RECT}</g>', 'the g "a": its transform "turn'),
    (f'<g id="a" transform-origin="5 5">{RECT}</g>', "has a transform-origin"),
    ('<g id="a"><use href="other.svg#b"/></g>', 'uses "other.svg#b", which is not in this file'),
    ('<g id="a"><use href="file:///etc/hosts#b"/></g>', "which is not in this file"),
    ('<g id="a"><use href="#b"/></g>', 'no element has the id "b"'),
    ('<g id="a"><use href="#a"/></g>', "uses itself"),
    ('<rect id="a" width="20" height="0"/>', r'the rect "a" .* no size \(20 by 0\)'),
    ('<rect id="a" width="20" height="20" rx="-1"/>', "its radius of -1 is below 0"),
    ('<rect id="a" width="5em" height="20"/>', '"5em" has a unit'),
    ('<rect id="a" width="nan" height="20"/>', '"nan" is not a length'),
    ('<rect id="a" width="1e300" height="1e300" transform="scale(1e300)"/>', "reaches beyond 1 km"),
    ('<circle id="a" r="5" transform="scale(0 1)"/>', "squeezed to a line"),
    ('<path id="a" d="M0 0L20 20L20 0L0 20z"/>', "crosses or touches itself"),
    (f"{RECT[:-2]} id='a'", "cannot be read as SVG"),
    ("&x;", "cannot be read as SVG"),
    ("<g>" * 300 + "</g>" * 300, "cannot be read as SVG .*depth"),
    ("<g>" * 150 + f'<g id="a">{RECT}</g>' + "</g>" * 150, None),
    ('<g id="a">' + "<g>" * 150 + RECT + "</g>" * 151, "more than 100 groups"),
]


@pytest.mark.parametrize(("body", "words"), WRONG, ids=[body[:60] for body, _ in WRONG])
def test_what_is_no_outline_is_said_with_what_to_do(svg, body, words):
    path = svg(body)
    if words is None:
        assert len(read(path)) == 1
        return
    with pytest.raises(DrawingError, match=words) as caught:
        read(path)
    assert str(caught.value).startswith("part.svg: ")


def test_a_page_without_a_size_and_a_turned_page(svg):
    for head, words in (
        ("", "its page has no size"),
        ('width="9" height="9" transform="x"', "a g"),
    ):
        with pytest.raises(DrawingError, match=words):
            read(svg(f'<g id="a">{RECT}</g>', head=head))


# ---- hostile files ---------------------------------------------------------------------------


BOMB = '<!DOCTYPE svg [<!ENTITY x "xxxxxxxxxx">' + "".join(
    f'<!ENTITY x{i} "{f"&x{i - 1};" * 10 if i else "&x;" * 10}">' for i in range(12)
)


@pytest.mark.parametrize(
    "before",
    [
        BOMB + "]>",
        '<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/hosts">]>',
        '<!DOCTYPE svg [<!ENTITY % x SYSTEM "http://127.0.0.1:9/x.dtd"> %x;]>',
        '<!DOCTYPE svg [<!ATTLIST rect transform CDATA "scale(2)">]>',
        '<?xml version="1.0" encoding="UTF-7"?>+ADwAIQ-ENTITY+AD4-',
    ],
    ids=["bomb", "file", "net", "defaults", "encoding"],
)
def test_entities_and_types_of_its_own_are_refused(svg, before):
    with pytest.raises(DrawingError, match=r"entities or a document type|cannot be read as SVG"):
        read(svg('<rect id="a" width="20" height="20"/>', before=before))


def test_uses_that_multiply_end_in_a_message(svg):
    levels = "".join(f'<g id="g{i}">' + f'<use href="#g{i + 1}"/>' * 10 + "</g>" for i in range(12))
    body = f'<g id="a"><use href="#g0"/></g>{levels}<g id="g12">{RECT}</g>'
    with pytest.raises(DrawingError, match=r"more than 50000 elements|2000 paths"):
        read(svg(body))
    body = body.replace(RECT, "<title/>" * 10)
    with pytest.raises(DrawingError, match="more than 50000 elements"):
        read(svg(body))


def test_what_is_packed_or_no_svg(tmp_path):
    path = tmp_path / "part.svg"
    path.write_bytes(b"\x1f\x8b\x08\x00packed\xff")
    with pytest.raises(DrawingError, match="not UTF-8 text"):
        read(path)
    path.write_text("<html/>")
    with pytest.raises(DrawingError, match="is no SVG drawing"):
        read(path)
    with pytest.raises(DrawingError, match=r"cannot be read .*check its name"):
        read(tmp_path / "none.svg")
    with path.open("wb") as file:
        file.truncate(20_000_001)
    with pytest.raises(DrawingError, match="20 MB is more than"):
        read(path)
