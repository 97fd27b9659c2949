"""The compiled loops, and nothing else that is compiled: arrays in, arrays out, no checks.

Each has a plain front elsewhere and a slow twin in the tests.
"""

from toolpath.field.kernels.arcing import arcs_through
from toolpath.field.kernels.carving import carve
from toolpath.field.kernels.compiled import BANDS
from toolpath.field.kernels.dilation import dilate
from toolpath.field.kernels.dropping import drop_tips
from toolpath.field.kernels.engaging import (
    clear_along,
    engaged_along,
    follow_front,
    sweep_near,
)
from toolpath.field.kernels.flat import dilate_flat
from toolpath.field.kernels.nearing import ITEM, SEEN, least_gaps
from toolpath.field.kernels.sweeping import WIDE, bite, sweep_touched, sweep_whole
from toolpath.field.kernels.thinning import thin_over
from toolpath.field.kernels.threading import thread_through
from toolpath.field.kernels.tips import lowest_tips
from toolpath.field.kernels.triangles import nodes_of_triangles, top_of_triangles
from toolpath.field.kernels.words import common_lines

__all__ = [
    "BANDS",
    "ITEM",
    "SEEN",
    "WIDE",
    "arcs_through",
    "bite",
    "carve",
    "clear_along",
    "common_lines",
    "dilate",
    "dilate_flat",
    "drop_tips",
    "engaged_along",
    "follow_front",
    "least_gaps",
    "lowest_tips",
    "nodes_of_triangles",
    "sweep_near",
    "sweep_touched",
    "sweep_whole",
    "thin_over",
    "thread_through",
    "top_of_triangles",
]
