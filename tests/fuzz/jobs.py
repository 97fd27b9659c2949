"""Jobs: the text of a valid job with keys, tables and values changed."""

import re
from pathlib import Path

from fuzz.mutate import text_mutator
from fuzz.target import Target, Unsound
from toolpath.job import keys
from toolpath.job.model import Job
from toolpath.job.read import read_job, require_cuts

_SEEDS = Path(__file__).parent / "seeds"

_KEYS = sorted({name for table in keys.ALL for name in table.names})
_VALUES = (
    *("true", "false", '""', '"a"', '"front"', '"back"', '"plate"', '"pocket"', '"profile"'),
    *('"drill"', '"face"', '"in"', '"mm"', '"flat"', '"ball"', '"bull"', '"vee"', '"round-over"'),
    *('"1/4 in"', '"6 mm"', '"1/0 in"', '"1e999 mm"', '"-1 mm"', '"1 1/2 in"', '"flat 6"'),
    *('"rise"', '"pillar"', '"refuse"', '"around"', '"may-cut"', '"keep"', '"glass"', '"metal"'),
    *('"inner"', '"outer"', '"centre"', '"left-right"', '"top-bottom"', '"lower-left"', '"upper"'),
    *("[]", "[[]]", "{}", "[1]", "[0, 0]", "[0, 0, 10, 10]", "[[0, 0], [10, 0], [5, 5]]"),
    *("{ rect = [0, 0, 10, 10] }", "{ circle = [5, 5, 2] }", "{ slot = [0, 0, 9, 0, 3] }"),
    *("{ polygon = [[0, 0], [9, 0], [5, 7]] }", "{ dxf = 'a.dxf', layer = 'CUT' }"),
    *("{ svg = 'a.svg', id = 'a' }", "{ kind = 'sphere', diameter = 5 }", "1979-05-27", "07:32:00"),
    *("{ kind = 'mesh', file = 'a.stl', unit = 'mm' }", "{ kind = 'box', size = [1, 2, 3] }"),
    *(
        "{ kind = 'heights', file = 'a.csv', size = [9, 9] }",
        "{ kind = 'heights', file = 'b.csv' }",
    ),
    *(
        "{ kind = 'prism', outline = { circle = [0, 0, 5] }, height = 3 }",
        "{ width = 3, depth = 1 }",
    ),
    *("{ kind = 'mesh', file = 'a.3mf', unit = 'in' }", "{ count = 3, step = [5, 0] }"),
    *(
        "{ kind = 'heights', file = 'a.png', size = [9, 9], low = 1, high = 4 }",
        "'..'",
        "'/dev/zero'",
    ),
    *("{ from = [1, 1], step = [2, 2], count = [3, 3] }", "{ dxf = 'a.dxf', layer = 'HOLES' }"),
    *(
        "{ centre = [9, 9], radius = 5, count = 6, first = 30 }",
        "{ outline = { circle = [5, 5, 2] } }",
    ),
    *("inf", "-inf", "nan", "1e308", "0x7fffffff", "0b1", "1_000", "9" * 30, "'\\'", '"\\u0000"'),
    *("{ rect = [0, 0, 1e9, 1e9] }", "{ rect = [0, 0, 99999, 99999] }", "0.02", "[[1, 2], [1, 2]]"),
    *(
        '"""\n"""',
        "'''x'''",
        "#",
        "\n",
        "\n[[cut]]\n",
        "\n[[piece]]\n",
        "\n[[cutter]]\n",
        "\n[pins]\n",
    ),
    *(
        "\n[[clamp]]\n",
        "\n[[plate]]\n",
        "\n[measured]\n",
        "\n[plate.screws]\n",
        "\n[machine.nut]\n",
    ),
    *("\n[face.back]\n", "\n[piece.drift]\n", "\n[cut.tabs]\n", "\n[cutter.neck]\n", "\n[check]\n"),
    *("\n[machine.shoe]\n", "\n[piece.repeat]\n", "\n[plate.stock]\n", "\n[piece.solid]\n", "= "),
)
_WORDS = tuple(
    word.encode()
    for word in (
        *_KEYS,
        *_VALUES,
        *(f"\n{key} = 1\n" for key in _KEYS),
        *(f"{key}." for key in _KEYS),
    )
)


def _read(path: Path) -> str:
    job = read_job(path)
    if not isinstance(job, Job):
        raise Unsound(f"no job: {job!r:.100}")
    require_cuts(job)
    return "answer"


def _beside(folder: Path) -> None:
    """Small files that the jobs name."""
    for path in (_SEEDS / "beside").iterdir():
        (folder / path.name).write_bytes(path.read_bytes())


def _others() -> tuple[bytes, ...]:
    return tuple(path.read_bytes() for path in sorted((_SEEDS / "jobs").glob("*.toml")))


TARGET = Target(
    name="jobs",
    endings=(".toml",),
    read=_read,
    mutate=text_mutator(
        word=re.compile(rb"\"[^\"\n]*\"|'[^'\n]*'|[\w.+-]+|\[\[?[\w.]+\]\]?|\n"),
        words=_WORDS,
        others=_others(),
    ),
    beside=_beside,
)
