"""A relief from job to text and back: a job made in a folder, and a replay of its programs that
shares nothing with toolpath: its own reader of the text, the cutter as a formula, plain numpy.
"""

import math
import re
from pathlib import Path

import numpy as np

from toolpath.app.plan import plan

WORDS = re.compile(r"([A-Z])\s*(-?\d+\.?\d*|-?\.\d+)")

HEAD = """
name = "dial"
units = "mm"
[blank]
outline = {{ rect = [0, 0, {wide}, {wide}] }}
thickness = 30
material = "casting resin"
[machine]
travel = [600, 400, 90]
feed_max = 3000
spindle = [8000, 24000]
safe_height = 6
[check]
clearance = 1.0
{cutters}
{pieces}
[[cut]]
name = "dial"
face = "front"
do = "relief"
map = {{ file = "map.npy", size = [{size}, {size}], at = [{half}, {half}]{place} }}
{cut}
"""

FORMS = {
    "flat": ("flat", ""),
    "ball": ("ball", ""),
    "bull": ("bull", "corner_radius = 1"),
    "vee": ("vee", "angle = 60\ntip_diameter = 0.5"),
}


def cutter_text(name, form, diameter, stepdown=3.0):
    shape, more = FORMS[form]
    return f"""
[[cutter]]
name = "{name}"
shape = "{shape}"
diameter = {diameter}
flutes = 2
flute_length = 20
shank = {diameter}
reach = 40
rpm = 16000
feed = 1200
plunge = 300
stepdown = {stepdown}
stepover = 0.4
{more}
"""


def planned(folder, depth, *, size=24.0, step=0.1, margin=3.0, cut="", cutters=None, **other):
    """Plans a relief whose depth is a function of x and y about its middle, mm.

    Returns what `plan` does, and the programs' texts with the cutter of each."""
    places = np.linspace(-size / 2, size / 2, round(size / step) + 1)
    x, y = np.meshgrid(places, places)
    np.save(folder / "map.npy", depth(x, y)[::-1])
    text = HEAD.format(
        wide=size + 2 * margin,
        half=size / 2 + margin,
        size=size,
        cutters=cutters or cutter_text("ball 6", "ball", 6),
        cut=cut or 'cutter = "ball 6"',
        pieces=other.get("pieces", ""),
        place=other.get("place", ""),
    )
    job = folder / "job.toml"
    job.write_text(text)
    made = plan(job, folder / "out", pictures=False)
    programs = sorted((folder / "out" / "programs").glob("*.nc"))
    return made, [(path.stem.split("front-")[-1], path.read_text()) for path in programs]


def feeds(text):
    """Feed moves of a program in absolute mm, one by one: start, end, G number and words."""
    at, mode = [math.nan] * 3, 0
    for line in text.splitlines():
        words = WORDS.findall(re.sub(r"\(.*?\)", "", line.upper()))
        values = {letter: float(value) for letter, value in words if letter != "G"}
        for letter, value in words:
            if letter == "G" and float(value) in (0, 1, 2, 3):
                mode = int(float(value))
        if not {"X", "Y", "Z"} & set(values):
            continue
        end = [values.get(axis, old) for axis, old in zip("XYZ", at, strict=True)]
        if mode and not any(map(math.isnan, at)):
            yield np.array(at), np.array(end), mode, values
        at = end


def tips(text, step):
    """(n, 3) places of the tip along all feed moves below Z0 of a program in absolute mm."""
    whole = np.concatenate([along_move(*move, step) for move in feeds(text)])
    return whole[whole[:, 2] < 0.0]


def along_move(start, end, mode, values, step):
    wide = math.hypot(*(end - start)[:2])
    if mode == 1:
        share = np.linspace(0.0, 1.0, max(1, math.ceil(wide / step)) + 1)[:, None]
        return start + (end - start) * share
    centre = start[:2] + np.array([values.get("I", 0.0), values.get("J", 0.0)])
    first = math.atan2(*(start[:2] - centre)[::-1])
    last = math.atan2(*(end[:2] - centre)[::-1])
    sweep = last - first
    if mode == 3 and sweep <= 1e-9:
        sweep += 2 * math.pi
    if mode == 2 and sweep >= -1e-9:
        sweep -= 2 * math.pi
    radius = math.hypot(*(start[:2] - centre))
    share = np.linspace(0.0, 1.0, max(2, math.ceil(abs(sweep) * radius / step)) + 1)
    angle = first + sweep * share
    z = start[2] + (end[2] - start[2]) * share
    return np.column_stack(
        [centre[0] + radius * np.cos(angle), centre[1] + radius * np.sin(angle), z]
    )


def height_of(form, diameter):
    """The height of a cutter above its tip at a radius."""
    radius = diameter / 2
    if form == "flat":
        return lambda r: np.where(r <= radius, 0.0, np.inf)
    if form == "vee":
        slope = 1.0 / math.tan(math.radians(30))
        return lambda r: np.where(r <= radius, np.maximum(r - 0.25, 0.0) * slope, np.inf)
    corner = radius if form == "ball" else 1.0
    flat = radius - corner

    def height(r):
        off = np.maximum(r - flat, 0.0)
        up = corner - np.sqrt(np.maximum(corner**2 - off**2, 0.0))
        return np.where(r <= radius, up, np.inf)

    return height


def left_over(passes, box, step=0.02):
    """What programs leave over a box (x0, y0, x1, y1), at nodes `step` apart: x, y, z. `passes`
    are (tips, height, radius)."""
    x = np.arange(box[0], box[2] + step / 2, step)
    y = np.arange(box[1], box[3] + step / 2, step)
    z = np.zeros((len(y), len(x)))
    for places, height, radius in passes:
        near = (places[:, 0] > box[0] - radius) & (places[:, 0] < box[2] + radius)
        near &= (places[:, 1] > box[1] - radius) & (places[:, 1] < box[3] + radius)
        for px, py, pz in places[near]:
            i, j = np.searchsorted(x, [px - radius, px + radius])
            k, m = np.searchsorted(y, [py - radius, py + radius])
            r = np.hypot(x[None, i:j] - px, y[k:m, None] - py)
            part = z[k:m, i:j]
            np.minimum(part, pz + height(r), out=part)
    return np.meshgrid(x, y)[0], np.meshgrid(x, y)[1], z


def replayed(programs, forms, box, step=0.02, along=0.05):
    """`left_over` of programs; `forms` says (form, diameter) of each cutter by its file word."""
    passes = []
    for name, text in programs:
        form, diameter = forms[name]
        passes.append((tips(text, along), height_of(form, diameter), diameter / 2))
    return left_over(passes, box, step)


def bites(programs, forms, box, most=None, step=0.1, along=0.05):
    """What each feed move of some programs takes at once of what stands over a box by then: rows
    of the program's place, whether it goes straight down, its height at the end, the greatest
    depth, and the area deeper than `most` says for the program, mm. Forms as for `replayed`."""
    x = np.arange(box[0], box[2] + step / 2, step)
    y = np.arange(box[1], box[3] + step / 2, step)
    z, found = np.zeros((len(y), len(x))), []
    for place, (name, text) in enumerate(programs):
        radius, height = forms[name][1] / 2, height_of(*forms[name])
        limit = (most or {}).get(name, np.inf)
        for start, end, *more in feeds(text):
            down = more[0] == 1 and (start[:2] == end[:2]).all() and end[2] < start[2]
            deepest, area = 0.0, 0.0
            for px, py, pz in [end] if down else along_move(start, end, *more, along):
                i, j = np.searchsorted(x, [px - radius, px + radius])
                k, m = np.searchsorted(y, [py - radius, py + radius])
                part = z[k:m, i:j]
                over = pz + height(np.hypot(x[None, i:j] - px, y[k:m, None] - py))
                deepest = max(deepest, float((part - over).max(initial=0.0)))
                area += float((part - over > limit).sum()) * step**2
                np.minimum(part, over, out=part)
            found.append((place, down, end[2], deepest, area))
    return np.array(found)


def folder_of(tmp_path, name):
    folder = Path(tmp_path) / name
    folder.mkdir()
    return folder
