"""SVG drawings: the outlines of the first few elements that have an id."""

import re
from pathlib import Path

from fuzz.drawn import read_outline_of
from fuzz.mutate import text_mutator
from fuzz.target import Target

_MOST_IDS = 5
_ID = re.compile(rb"\bid\s*=\s*[\"']([^\"'\n]{1,60})")

_WORDS = tuple(
    word.encode()
    for word in (
        *(
            "<g>",
            "</g>",
            '<g id="a">',
            '<use href="#a"/>',
            '<use xlink:href="#b" x="3" width="9"/>',
        ),
        *('<rect x="1" y="1" width="9" height="5" rx="2"/>', '<circle cx="9" cy="9" r="4"/>'),
        *('<ellipse cx="9" cy="9" rx="4" ry="2"/>', '<line x1="0" y1="0" x2="5" y2="5"/>'),
        *(
            '<polygon points="0,0 9,0 5,7"/>',
            '<polyline points="0,0 9,0 5,7 0,0"/>',
            "<text>x</text>",
        ),
        *(
            '<path id="a" d="M0 0H9V9H0Z"/>',
            '<path d="M0 0C9 0 9 9 0 9z"/>',
            "<symbol>",
            "</symbol>",
        ),
        *(
            '<svg x="3" width="9" height="9" viewBox="0 0 3 3">',
            "</svg>",
            "<defs>",
            "</defs>",
            "<a>",
        ),
        *(
            "<style>.a{display:none}</style>",
            "<!-- x -->",
            "<![CDATA[ x ]]>",
            "<?pi x?>",
            "&#65;",
            "&a;",
        ),
        *('<!DOCTYPE svg [<!ENTITY a "b">]>', 'transform="rotate(45)"', 'transform="scale(2,-1)"'),
        *('transform="matrix(1 0 0 1 5 5)"', 'transform="skewX(89.999)"', 'transform="scale(0)"'),
        *(
            'viewBox="0 0 200 100"',
            'viewBox="0 0 0 0"',
            'preserveAspectRatio="none"',
            'id="a"',
            'id="b"',
        ),
        *('preserveAspectRatio="xMinYMax slice"', 'width="100mm"', 'height="50%"', 'width="1e9in"'),
        *(
            'style="display:none"',
            'style="transform:none;d:none"',
            'clip-path="url(#a)"',
            'class="a"',
        ),
        *(
            "M",
            "m",
            "L",
            "l",
            "H",
            "h",
            "V",
            "v",
            "C",
            "c",
            "S",
            "s",
            "Q",
            "q",
            "T",
            "t",
            "A",
            "a",
            "z",
        ),
        *(
            "A5 5 0 0 1 10 0",
            "A5 3 30 1 0 10 0",
            "a5,5 0 1110,0",
            "M0,0",
            "Q5 5 9 0",
            "T9 9",
            "S1 1 2 2",
        ),
        *(
            "mm",
            "in",
            "pt",
            "pc",
            "px",
            "cm",
            "em",
            "%",
            "deg",
            "none",
            "auto",
            "url(#a)",
            " ",
            ",",
            "-",
        ),
        *(
            '"',
            "'",
            "<",
            ">",
            "=",
            "&",
            "/",
            "#",
            "xlink:href",
            "xmlns",
            "rx",
            "points",
            "d",
            "r",
            "id",
        ),
    )
)


def _read(path: Path) -> str:
    names = dict.fromkeys(
        each.decode("utf-8", "replace") for each in _ID.findall(path.read_bytes())
    )
    words = {
        read_outline_of(path, {"svg": path.name, "id": name})
        for name in [*names][:_MOST_IDS] or ["a"]
    }
    return "answer" if "answer" in words else min(words)


def _others() -> tuple[bytes, ...]:
    folder = Path(__file__).parent / "seeds" / "svg"
    return tuple(path.read_bytes() for path in sorted(folder.glob("*.svg")))


TARGET = Target(
    name="svg",
    endings=(".svg",),
    read=_read,
    mutate=text_mutator(
        word=re.compile(rb"</?[\w:]+|/?>|[\w:-]+=(?:\"[^\"]*\"|'[^']*')|[A-Za-z]+|\n"),
        words=_WORDS,
        others=_others(),
    ),
)
