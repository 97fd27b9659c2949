"""Makes the map and the mesh of the dial sample: run it here to make them anew.

dial.png: grey of 16 bits, white level with the face, black 4 mm deep. A dished dial of 120 mm with
raised hour marks and a rippled edge. rosette.stl: a small rosette, whose top is its highest place.
"""

from pathlib import Path

import numpy as np
import trimesh
from PIL import Image

HERE = Path(__file__).parent
SIZE, STEP, DEEPEST = 120.0, 0.3, 4.0


def dial():
    """Depths below the face over a square of SIZE, a sample each STEP, first row at the top."""
    places = np.linspace(-SIZE / 2, SIZE / 2, round(SIZE / STEP) + 1)
    x, y = np.meshgrid(places, places[::-1])
    r, angle = np.hypot(x, y), np.arctan2(y, x)
    dish = 3.2 * (1.0 - (np.clip(r, 0, 50) / 50) ** 2) + 0.6
    ripple = 0.5 + 0.4 * np.cos(48 * angle) * np.exp(-(((r - 55) / 2.5) ** 2))
    edge = 1.0 / (1.0 + np.exp(-(r - 51.0) / 0.5))
    depth = dish * (1 - edge) + ripple * edge
    hour = np.abs((angle * 6 / np.pi + 0.5) % 1.0 - 0.5) * np.pi / 6 * r
    off = np.maximum(hour - 1.2, np.abs(r - 40) - 5.0)
    mark = 1.0 / (1.0 + np.exp(off / 0.25))
    return np.clip(depth - 1.1 * mark, 0.0, DEEPEST)


def rosette():
    """A rosette of 40 mm with eight petals, 3 mm high."""
    r = np.linspace(0.0, 20.0, 61)
    angle = np.linspace(0.0, 2 * np.pi, 193)[:-1]
    a, b = np.meshgrid(angle, r[1:])
    z = 3.0 * np.cos(np.pi / 2 * b / 20) * (0.75 + 0.25 * np.cos(8 * a) * np.minimum(b / 6, 1))
    rim = np.column_stack([(b * np.cos(a)).ravel(), (b * np.sin(a)).ravel(), z.ravel()])
    points = np.vstack([[0.0, 0.0, 2.25], rim, rim[-192:] * [1, 1, 0]])
    count, faces = 192, []
    for k in range(count):
        faces.append([0, 1 + k, 1 + (k + 1) % count])
    for ring in range(60):
        for k in range(count):
            i, j = 1 + ring * count + k, 1 + ring * count + (k + 1) % count
            faces += [[i, i + count, j + count], [i, j + count, j]]
    return trimesh.Trimesh(points, faces, process=True)


def main():
    grey = np.round(65535 * (1.0 - dial() / DEEPEST)).astype(np.uint16)
    Image.fromarray(grey).save(HERE / "dial.png", optimize=True)
    rosette().export(HERE / "rosette.stl")


if __name__ == "__main__":
    main()
