"""Random right programs as lines of words, and other spellings of them (NISTIR 6556, 3.3)."""

import math

from hypothesis import strategies as st

LENGTHS = st.integers(-400000, 400000).map(lambda n: n / 10000)
SIZES = st.integers(1, 200000).map(lambda n: n / 10000)
PLANES = st.sampled_from(
    [("G17", "XY", "IJ", "Z"), ("G18", "ZX", "KI", "Y"), ("G19", "YZ", "JK", "X")]
)


def word(letter, number):
    return f"{letter}{number:.4f}"


@st.composite
def straight(draw):
    axes = draw(st.lists(st.sampled_from("XYZ"), min_size=1, max_size=3, unique=True))
    modes = draw(st.sampled_from([[], ["G90"], ["G91"], ["G20"], ["G21"]]))
    return [[*modes, draw(st.sampled_from(["G0", "G1"])), *(word(a, draw(LENGTHS)) for a in axes)]]


@st.composite
def arc(draw):
    """An arc from a place that the line before gives; its end is rounded to four decimals."""
    plane, flat, centre, normal = draw(PLANES)
    start = {axis: draw(LENGTHS) for axis in "XYZ"}
    radius, angle = draw(SIZES) + 1, draw(st.floats(0, 2 * math.pi))
    turn = draw(st.one_of(st.floats(0.1, 6.1), st.just(0.0)))
    offset = [round(-radius * math.cos(angle), 4), round(-radius * math.sin(angle), 4)]
    end = [offset[0] + radius * math.cos(angle + turn), offset[1] + radius * math.sin(angle + turn)]
    if turn == 0.0:
        end = [0.0, 0.0]
    absolute = draw(st.booleans())
    shift = [start[axis] if absolute else 0.0 for axis in flat]
    words = [word(axis, e + s) for axis, e, s in zip(flat, end, shift, strict=True)]
    if turn and draw(st.booleans()) and abs(turn - math.pi) > 0.3 and turn < 5:
        aim = [word("R", radius if turn < math.pi else -radius)]
        code = "G3"
    else:
        aim = [word(letter, value) for letter, value in zip(centre, offset, strict=True)]
        code = draw(st.sampled_from(["G2", "G3"]))
    rise = [word(normal, draw(LENGTHS))] if draw(st.booleans()) else []
    go = ["G21", "G90", "G0", *(word(axis, value) for axis, value in start.items())]
    return [go, [plane, "G90" if absolute else "G91", code, *words, *aim, *rise]]


@st.composite
def cycle(draw):
    plane, flat, _, normal = draw(PLANES)
    bottom, high, deep = draw(LENGTHS), draw(SIZES), draw(SIZES)
    mode = draw(st.sampled_from(["G90", "G91"]))
    heights = [word(normal, bottom), word("R", bottom + high)]
    if mode == "G91":
        heights = [word(normal, -deep), word("R", bottom)]
    kind = draw(st.sampled_from(["G81", "G82", "G83"]))
    extra = {"G81": [], "G82": ["P0.5"], "G83": [word("Q", draw(SIZES) / 4 + 1)]}[kind]
    repeats = draw(st.sampled_from([[], ["L1"], ["L3"]]))
    place = [word(axis, draw(LENGTHS)) for axis in flat]
    first = [plane, mode, draw(st.sampled_from(["G98", "G99"])), kind, *place, *heights]
    more = draw(st.lists(st.lists(st.sampled_from(flat), min_size=1, unique=True), max_size=3))
    return [
        [*first, *extra, *repeats],
        *([word(axis, draw(LENGTHS)) for axis in axes] for axes in more),
        ["G80"],
    ]


@st.composite
def programs(draw):
    """Lines of words, from a complete head to M2."""
    body = draw(st.lists(st.one_of(straight(), arc(), cycle()), max_size=8))
    head = [["G17", "G21", "G90", "G94", "G54", "G98"], ["F100", "S500", "M3"]]
    return [*head, ["G0", "X1", "Y2", "Z3"], *(line for item in body for line in item), ["M2"]]


def spelt(lines):
    return "".join(" ".join(line) + "\n" for line in lines)


def respelt(lines, random):
    """The same program in other letters: case, blanks, N numbers, comments, order of words."""
    fence = random.choice(["", "%\n"])
    return fence + "".join(_line(line, random) for line in lines) + fence


def _line(words, random):
    words = random.sample(words, len(words))
    text = f"N{random.randrange(99999)} " if random.random() < 0.5 else ""
    for each in words:
        number = each[1:].rstrip("0").rstrip(".") if "." in each else each[1:]
        number = random.choice([each[1:], number, f"0{number}" if number[0] != "-" else number])
        written = random.choice([each[0], each[0].lower()]) + number
        text += "".join(letter + random.choice(["", "", " ", "\t"]) for letter in written)
        text += random.choice(["", "", "(a note, G0 Z-50)", "( X1 )"])
    return text + random.choice(["", " ", "()"]) + random.choice(["\n", "\r\n", "\n \n"])
