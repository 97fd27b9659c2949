"""Named case "load": a plan of 500 pieces and 100 cuts on a blank of 600 x 600 mm, cells of 0.2 mm.

All is invented: pebbles, brass cogs, driftwood and bark lie about the sites of the cuts, a tenth of
them meshes, some with measured tops, some that may be cut; cuts of every kind from both faces, with
several cutters. Each plan is a process of its own: seconds of each stage, and the peak memory of
that process and its copy together. Run: python benchmarks/load.py [--once] [--runs N] [--keep DIR]
"""

from __future__ import annotations

import argparse
import json
import math
import os
import resource
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

SITES, PITCH, MARGIN = 10, 58.0, 39.0
"""Sites a side of the blank, and how far they are apart, mm."""
PIECES = 5
"""Pieces about each site."""

CUTTERS = (
    ("flat 8", "flat", 8, 40, 8, 46, 2.5),
    ("flat 6", "flat", 6, 36, 6, 45, 3.0),
    ("flat 3", "flat", 3, 14, 3, 26, 1.0),
    ("ball 4", "ball", 4, 22, 4, 34, 1.5),
    ("drill 5", "drill", 5, 50, 5, 56, 3.0),
)
"""Name, shape, diameter, length of the flutes, shank, reach and stepdown."""


def head(sites: int) -> str:
    """All of the job but its pieces and cuts."""
    size = 2.0 * MARGIN + (sites - 1) * PITCH
    lines = [
        'name = "load"\nunits = "mm"',
        f"[blank]\noutline = {{ rect = [0, 0, {size}, {size}] }}",
        'thickness = 60\nthickness_within = 0.3\nmaterial = "casting resin"',
        "[machine]\ntravel = [800, 800, 120]\nfeed_max = 3000\nspindle = [1000, 24000]",
        "safe_height = 6",
        "[check]\ncell = 0.2\nclearance = 1.0\nleast_wall = 0.5",
    ]
    for name, shape, diameter, flutes, shank, reach, stepdown in CUTTERS:
        lines.append(
            f'[[cutter]]\nname = "{name}"\nshape = "{shape}"\ndiameter = {diameter}\nflutes = 2\n'
            f"flute_length = {flutes}\nshank = {shank}\nreach = {reach}\nrpm = 12000\nfeed = 1400\n"
            f"plunge = 300\nstepdown = {stepdown}\nstepover = 0.4"
        )
        if shape == "drill":
            lines[-1] += "\nangle = 118"
    for face, at in (("front", (size - 20, -20)), ("back", (-20, size - 20))):
        x, y = at
        lines.append(
            f'[[clamp]]\nface = "{face}"\noutline = {{ rect = [{x}, {y}, {x + 40}, {y + 40}] }}\n'
            "height = 16"
        )
    return "\n\n".join(lines)


def pieces(folder: Path, sites: int) -> Iterator[str]:
    """The pieces: five about each site, in the middle of the blank unless they may be cut."""
    chance = np.random.default_rng(1)
    for number in range(sites * sites * PIECES):
        site, own = divmod(number, PIECES)
        row, column = divmod(site, sites)
        turn = 2.0 * math.pi * (own + chance.random() / 3.0) / PIECES
        away = 4.0 if own == 0 else 16.0 + 4.0 * chance.random()
        x = MARGIN + column * PITCH + away * math.cos(turn)
        y = MARGIN + row * PITCH + away * math.sin(turn)
        depth = 24.0 + 6.0 * chance.random()
        words = [f'name = "{_kind(number)} {number + 1}"']
        words.append(f"solid = {_solid(folder, number, chance)}")
        words += [f"at = [{x:.3f}, {y:.3f}]", f"turn = {360.0 * chance.random():.1f}"]
        hardness = {"cog": "metal", "driftwood": "wood", "bark": "wood"}.get(_kind(number), "stone")
        if own == 2 and site % 3 == 0:
            words.append('rule = "may-cut"')
            hardness, depth = "wood", 4.0
        words += [f'hardness = "{hardness}"', f"from_front = {depth:.3f}"]
        if own % 2:
            words.append("clearance = 1.5")
        words.append(f"drift = {{ side = {0.3 + 0.2 * own:.1f}, rise = 0.3, turn = {own} }}")
        yield "[[piece]]\n" + "\n".join(words)


def _kind(number: int) -> str:
    """What a piece is."""
    if number % 10 == 7:
        return "lump"
    return ("pebble", "cog", "driftwood", "pebble", "bark" if number % 20 == 4 else "branch")[
        number % 5
    ]


def _solid(folder: Path, number: int, chance: np.random.Generator) -> str:
    size = 6.0 + 6.0 * chance.random()
    kind = _kind(number)
    if kind == "lump":
        name = f"lump-{number % 7}.stl"
        write_lump(folder / name, seed=number % 7)
        return f'{{ kind = "mesh", file = "{name}", unit = "mm", scale = {size / 10.0:.4f} }}'
    if kind == "bark":
        name = f"bark-{number % 3}.csv"
        waves = np.add.outer(np.sin(np.arange(12) + number % 3), np.cos(np.arange(20) * 0.7)) + 4.0
        np.savetxt(folder / name, waves, fmt="%.3f", delimiter=",")
        return f'{{ kind = "heights", file = "{name}", size = [{2 * size:.2f}, {size:.2f}] }}'
    if kind == "cog":
        angle = np.linspace(0.0, 2.0 * math.pi, 48, endpoint=False)
        far = size / 2.0 * np.where(np.arange(48) // 2 % 2, 1.0, 0.8)
        corners = np.column_stack([far * np.cos(angle), far * np.sin(angle)]).round(3).tolist()
        return f'{{ kind = "prism", outline = {{ polygon = {corners} }}, height = 4 }}'
    if kind == "driftwood":
        return f'{{ kind = "box", size = [{2.0 * size:.2f}, {0.6 * size:.2f}, 6] }}'
    if kind == "branch":
        return f'{{ kind = "cylinder", diameter = {size:.2f}, height = 7 }}'
    return f'{{ kind = "sphere", diameter = {size:.2f} }}'


def write_lump(path: Path, seed: int) -> None:
    """A lumpy ball of 10 mm, some 700 triangles, as STL."""
    if path.exists():
        return
    rows, columns = 16, 24
    up = np.linspace(0.0, math.pi, rows + 1)[:, None]
    round_ = np.linspace(0.0, 2.0 * math.pi, columns + 1)[None, :-1]
    far = 5.0 + 0.4 * np.sin(3.0 * up + seed) * np.sin(up) * np.cos(2.0 * round_ + seed)
    xyz = np.stack(
        [
            far * np.sin(up) * np.cos(round_),
            far * np.sin(up) * np.sin(round_),
            far * np.cos(up) * np.ones_like(round_),
        ],
        axis=-1,
    )
    xyz[0], xyz[-1] = xyz[0, 0], xyz[-1, 0]
    after = np.roll(xyz, -1, axis=1)
    one = np.stack([xyz[:-1], xyz[1:], after[1:]], axis=2).reshape(-1, 3, 3)
    two = np.stack([xyz[:-1], after[1:], after[:-1]], axis=2).reshape(-1, 3, 3)
    triangles: NDArray[np.float64] = np.concatenate([one[: -columns or None], two[columns:]])
    corners = (
        "outer loop\n"
        + "\n".join("vertex {:.5f} {:.5f} {:.5f}".format(*corner) for corner in triangle)
        + "\nendloop"
        for triangle in triangles.tolist()
    )
    facets = "\n".join(f"facet normal 0 0 0\n{each}\nendfacet" for each in corners)
    path.write_text(f"solid lump\n{facets}\nendsolid lump\n")


def cuts(sites: int) -> Iterator[str]:
    """The cuts: one a site, the faces in turn like the fields of a chessboard; row by row, those
    of a row by their cutters, so that programs are many."""
    for face in ("front", "back"):
        for row in range(sites):
            mine = [
                _cut(row * sites + column, MARGIN + column * PITCH, MARGIN + row * PITCH)
                for column in range(sites)
                if ("front", "back")[(row + column) % 2] == face
            ]
            for number, words, cutter in sorted(mine, key=lambda each: each[2]):
                yield (
                    f'[[cut]]\nname = "cut {number + 1}"\nface = "{face}"\ncutter = {cutter}\n'
                    f"{words}"
                )


def _cut(number: int, x: float, y: float) -> tuple[int, str, str]:
    """Number, words and cutter of the cut of a site."""
    star = [
        [round(x + far * math.cos(turn), 3), round(y + far * math.sin(turn), 3)]
        for turn, far in ((math.pi * k / 5.0, (22.0, 12.0)[k % 2]) for k in range(10))
    ]
    rect = f"[{x - 20}, {y - 14}, {x + 20}, {y + 14}]"
    pocket = 'do = "pocket"\n'
    words, cutter = (
        (f"{pocket}outline = {{ rect = {rect}, corner = 5 }}\ndepth = 10\nfinish = 0.3", "flat 6"),
        (
            f"{pocket}outline = {{ circle = [{x}, {y}, 20] }}\ndepth = 9\n"
            f"islands = [{{ circle = [{x - 6}, {y}, 4] }}, {{ circle = [{x + 8}, {y + 4}, 3] }}]",
            "flat 6",
        ),
        (
            f"{pocket}outline = {{ rect = [{x - 15}, {y - 12}, {x + 15}, {y + 12}], corner = 6 }}\n"
            "ledge = { width = 6, depth = 3 }\ndepth = 14",
            "flat 8",
        ),
        (
            f'{pocket}outline = {{ rect = {rect}, corner = 6 }}\ndepth = 27\nif_blocked = "rise"',
            "flat 8",
        ),
        (
            f'{pocket}outline = {{ circle = [{x}, {y}, 21] }}\ndepth = 26\nif_blocked = "pillar"',
            "flat 6",
        ),
        (f"{pocket}outline = {{ polygon = {star} }}\ndepth = 5", '["flat 6", "flat 3"]'),
        (
            f'do = "profile"\nside = "outer"\noutline = {{ circle = [{x}, {y}, 18] }}\ndepth = 12\n'
            "tabs = { count = 3, width = 6, height = 3 }",
            "flat 6",
        ),
        (
            f'do = "profile"\nside = "centre"\noutline = {{ polygon = {star} }}\ndepth = 4',
            "ball 4",
        ),
        (
            f'do = "drill"\nat = {{ from = [{x - 15}, {y - 10}], step = [10, 10], '
            "count = [4, 3] }\ndepth = 12\npeck = 4",
            "drill 5",
        ),
        (
            f'do = "drill"\nat = {{ centre = [{x}, {y}], radius = 16, count = 6 }}\n'
            "diameter = 11\ndepth = 8",
            "flat 6",
        ),
    )[(number // 2 + number // 20 * 3) % 10]
    return number, words, cutter if cutter.startswith("[") else f'"{cutter}"'


def write_job(folder: Path, sites: int) -> Path:
    """The job and what it names, in a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "load.toml"
    path.write_text("\n\n".join([head(sites), *pieces(folder, sites), *cuts(sites)]) + "\n")
    return path


RUN = """
import sys, time, json, resource
from pathlib import Path
from toolpath.app.plan import plan
spent, state = {}, ["starting", time.perf_counter()]
def progress(step):
    now = time.perf_counter()
    word = "drawing" if state[0].endswith(".png") else state[0].split()[0]
    spent[word] = spent.get(word, 0.0) + now - state[1]
    state[:] = [step, now]
made = plan(Path(sys.argv[1]), Path(sys.argv[2]), progress=progress)
progress("end")
scene = made.scene
print(json.dumps({
    "stages": spent, "verdict": scene.verdict.value, "programs": len(scene.programs),
    "moves": sum(program.report.moves for program in scene.programs),
    "refused": [cut.planned.cut.name + ": " + (cut.refusal or cut.findings[0].message)
                for program in scene.programs for cut in program.cuts
                if cut.verdict.value == "refused"],
}))
"""


def run(job: Path, out: Path) -> dict[str, object]:
    """One plan in a process of its own: what it says, its seconds, and its peak memory in MiB with
    that of its copy."""
    start = time.perf_counter()
    made = subprocess.Popen(
        [sys.executable, "-c", RUN, str(job), str(out)], stdout=subprocess.PIPE, text=True
    )
    watch = _Memory(made.pid)
    text, _ = made.communicate()
    found: dict[str, object] = json.loads(text.splitlines()[-1])
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    most = used.ru_maxrss / 1024.0
    return {
        **found,
        "whole": time.perf_counter() - start,
        "cores": used.ru_utime + used.ru_stime,
        "one": most,
        "both": max(watch.ended(), most),
    }


class _Memory(threading.Thread):
    """Looks ten times a second at the memory of a process and its copies: what they share counts
    once (Linux only; elsewhere nothing is found)."""

    def __init__(self, number: int) -> None:
        super().__init__(daemon=True)
        self.number, self.most, self.over = number, 0.0, threading.Event()
        self.start()

    def run(self) -> None:
        while not self.over.wait(0.1):
            self.most = max(self.most, sum(map(_share, _family(self.number))) / 1024.0)

    def ended(self) -> float:
        """The most that was seen, MiB."""
        self.over.set()
        self.join()
        return self.most


def _family(number: int) -> list[int]:
    found = [number]
    try:
        names = Path(f"/proc/{number}/task/{number}/children").read_text().split()
    except OSError:
        return found
    for name in names:
        found += _family(int(name))
    return found


def _share(number: int) -> float:
    """KiB of a process, pages that are shared by n counted as an n-th."""
    try:
        lines = Path(f"/proc/{number}/smaps_rollup").read_text().splitlines()
    except OSError:
        return 0.0
    return sum(float(line.split()[1]) for line in lines if line.startswith("Pss:"))


def report(found: dict[str, object]) -> None:
    stages = found["stages"]
    assert isinstance(stages, dict)
    for stage, seconds in stages.items():
        print(f"  {stage:12} {seconds:7.1f}")
    print(f"  {'whole':12} {found['whole']:7.1f} s; of cores, so far {found['cores']:.1f} s")
    print(f"  {found['programs']} programs, {found['moves']} moves: {found['verdict']}")
    print(f"  peak memory {found['one']:.0f} MiB, with its copy {found['both']:.0f} MiB")
    refused = found["refused"]
    assert isinstance(refused, list)
    for line in refused:
        print(f"  refused: {line}")


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--once", action="store_true", help="a small one, for CI")
    parser.add_argument("--runs", type=int, default=1)
    parser.add_argument("--sites", type=int, default=SITES, help="sites a side")
    parser.add_argument("--keep", type=Path, help="a folder to leave job and results in")
    given = parser.parse_args()
    sites = 2 if given.once else given.sites
    with tempfile.TemporaryDirectory() as scratch:
        folder = given.keep or Path(scratch)
        job = write_job(folder, sites)
        print(f'case "load": {sites**2 * PIECES} pieces, {sites**2} cuts, {os.cpu_count()} cores')
        for _ in range(given.runs):
            report(run(job, folder / "plan"))


if __name__ == "__main__":
    main()
