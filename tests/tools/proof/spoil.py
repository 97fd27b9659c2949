"""One number or word of a program spoiled, as a slip of the hand or of a converter would."""

import re

import numpy as np

_WORD = re.compile(r"([A-Z])([-+]?\d*\.?\d+)")
_MOTION = re.compile(r"^(?:G0?[0123]\b|[XYZIJKR])")


def _swap_text(lines, number, old, new):
    changed = list(lines)
    changed[number] = lines[number].replace(old, new, 1)
    return changed


def _pick(rng, lines, letters):
    """A word with one of the letters, somewhere: its line, letter and number as text."""
    found = [
        (number, letter, value)
        for number, line in enumerate(lines)
        for letter, value in _WORD.findall(re.sub(r"\(.*?\)", "", line))
        if letter in letters
    ]
    return found[rng.integers(len(found))] if found else None


def _shifted(rng, lines, letters, amounts):
    picked = _pick(rng, lines, letters)
    if picked is None:
        return None
    number, letter, value = picked
    places = len(value.partition(".")[2])
    scale = 1.0 / 25.4 if any("G20" in line for line in lines[:8]) else 1.0
    new = float(value) + float(rng.choice(amounts)) * float(rng.uniform(0.5, 1.5)) * scale
    return _swap_text(lines, number, letter + value, f"{letter}{new:.{max(places, 1)}f}")


def depth(rng, lines):
    return _shifted(rng, lines, "Z", [-0.02, -0.1, -1.0, -5.0])


def place(rng, lines):
    return _shifted(rng, lines, "XY", [-5.0, -0.5, -0.05, 0.05, 0.5, 5.0])


def centre(rng, lines):
    return _shifted(rng, lines, "IJKR", [-3.0, -0.3, 0.3, 3.0])


def sign(rng, lines):
    picked = _pick(rng, lines, "XYZIJKR")
    if picked is None:
        return None
    number, letter, value = picked
    new = value[1:] if value.startswith("-") else f"-{value}"
    return _swap_text(lines, number, letter + value, letter + new)


def point_lost(rng, lines):
    picked = _pick(rng, lines, "XYZIJKR")
    if picked is None or "." not in picked[2]:
        return None
    number, letter, value = picked
    return _swap_text(lines, number, letter + value, letter + value.replace(".", ""))


def axes_swapped(rng, lines):
    rows = [n for n, line in enumerate(lines) if len(set(re.findall(r"[XYZ]", line))) >= 2]
    if not rows:
        return None
    number = int(rng.choice(rows))
    axes = list(dict.fromkeys(re.findall(r"[XYZ]", lines[number])))
    one, two = rng.choice(axes, 2, replace=False)
    table = str.maketrans({one: two, two: one})
    changed = list(lines)
    changed[number] = lines[number].translate(table)
    return changed


def line_missing(rng, lines):
    rows = [n for n, line in enumerate(lines) if _MOTION.match(line)]
    number = int(rng.choice(rows))
    return [line for n, line in enumerate(lines) if n != number]


def _word(old, new):
    def change(rng, lines):
        rows = [n for n, line in enumerate(lines) if re.search(rf"\b{old}(?![.\d])", line)]
        if not rows:
            return None
        number = int(rng.choice(rows))
        changed = list(lines)
        changed[number] = re.sub(rf"\b{old}(?![.\d])", new, lines[number], count=1)
        return changed

    return change


def unit(rng, lines):
    inch = any("G20" in line for line in lines)
    return _word(*(("G20", "G21") if inch else ("G21", "G20")))(rng, lines)


def increments(rng, lines):
    """G91 in mid-program, as where a line that goes back to G90 was lost."""
    rows = [n for n, line in enumerate(lines) if n > 6 and _MOTION.match(line)]
    number = int(rng.choice(rows))
    return [*lines[:number], "G91", *lines[number:]]


def plane(rng, lines):
    return _word("G17", str(rng.choice(["G18", "G19"])))(rng, lines)


def turning(rng, lines):
    old, new = [("G2", "G3"), ("G3", "G2")][rng.integers(2)]
    return _word(old, new)(rng, lines)


def motion(rng, lines):
    """A straight feed becomes a rapid or the other way round, an arc a line."""
    old, new = [("G1", "G0"), ("G0", "G1"), ("G2", "G1"), ("G3", "G1")][rng.integers(4)]
    changed = _word(old, new)(rng, lines)
    if changed is None or old in ("G1", "G0"):
        return changed
    return [
        re.sub(r" [IJR]\S+", "", line) if line != before else line
        for line, before in zip(changed, lines, strict=True)
    ]


SPOILS = {
    "depth": depth,
    "place": place,
    "centre": centre,
    "sign": sign,
    "point lost": point_lost,
    "axes swapped": axes_swapped,
    "line missing": line_missing,
    "unit": unit,
    "increments": increments,
    "plane": plane,
    "turning": turning,
    "motion": motion,
}


def spoiled(rng, text: str, kind: str) -> str | None:
    """The text with one thing spoiled; None where there is no such thing in it."""
    lines = text.split("\n")
    changed = SPOILS[kind](np.random.default_rng(rng.integers(2**32)), lines)
    return None if changed is None or changed == lines else "\n".join(changed)
