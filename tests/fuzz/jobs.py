"""Jobs: the text of a valid job with keys, tables and values changed."""

import json
import re
import tomllib
from pathlib import Path
from random import Random
from typing import Any

from fuzz.mutate import seeds_of, text_mutator, words_of
from fuzz.target import Target, Unsound

from toolpath.job import keys
from toolpath.job.model import Job
from toolpath.job.read import read_job, require_cuts

_SEEDS = Path(__file__).parent / "seeds"

_KEYS = sorted({name for table in keys.ALL for name in table.names})
_WORDS = (
    *(word.encode() for key in _KEYS for word in (key, f"\n{key} = 1\n", f"{key}.")),
    *words_of("jobs"),
)
_TEXT = text_mutator(
    word=re.compile(rb"\"[^\"\n]*\"|'[^'\n]*'|[\w.+-]+|\[\[?[\w.]+\]\]?|\n"),
    words=_WORDS,
    others=seeds_of("jobs"),
)


def _slots(value: Any) -> list[tuple[Any, Any]]:
    """Every place in a job that holds a value: its table or array, and the key."""
    if not isinstance(value, dict | list):
        return []
    here = list(value.items()) if isinstance(value, dict) else list(enumerate(value))
    return [slot for key, inner in here for slot in ((value, key), *_slots(inner))]


def _known() -> dict[str, list[Any]]:
    """The values that the kept jobs have under each key."""
    known: dict[str, list[Any]] = {}
    for seed in seeds_of("jobs"):
        try:
            job = tomllib.loads(seed.decode("utf-8", "replace"))
        except (tomllib.TOMLDecodeError, RecursionError):
            continue
        for holder, key in _slots(job):
            if isinstance(key, str):
                known.setdefault(key, []).append(holder[key])
    return known


_KNOWN = _known()


def _change(job: dict[str, Any], rng: Random) -> None:
    """Another value of the same key, another number, a key more or less, an entry twice."""
    slots = _slots(job)
    if not slots:
        return
    holder, key = rng.choice(slots)
    value, way = holder[key], rng.randrange(6)
    if way == 0 and isinstance(key, str):
        holder[key] = rng.choice(_KNOWN.get(key, [value]))
    elif way == 1 and isinstance(value, dict):
        more = rng.choice(sorted(_KNOWN))
        value[more] = rng.choice(_KNOWN[more])
    elif way == 2 and isinstance(value, list) and value:
        value.append(rng.choice(value))
    elif way == 3:
        del holder[key]
    elif isinstance(value, int | float) and abs(value) < 1e15:
        holder[key] = rng.choice(
            (0, -value, value * 2, value / 2, value + 1, value * 1.01, 10 * value, 1e-3, 1e5, 1e9)
        )
    elif way == 4:
        holder[key] = rng.choice(_KNOWN[rng.choice(sorted(_KNOWN))])


def _written(value: Any) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{json.dumps(k)} = {_written(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(_written(each) for each in value) + "]"
    if isinstance(value, str):
        return json.dumps(value).replace("\x7f", "\\u007f")
    return str(value).lower() if isinstance(value, bool) else str(value)


def _mutate(data: bytes, ending: str, rng: Random) -> bytes:
    if rng.random() < 0.4:
        return _TEXT(data, ending, rng)
    try:
        job = tomllib.loads(data.decode())
    except (ValueError, RecursionError):
        return _TEXT(rng.choice(seeds_of("jobs")), ending, rng)
    for _ in range(rng.choice((1, 1, 2, 4))):
        _change(job, rng)
    return "".join(f"{json.dumps(k)} = {_written(v)}\n" for k, v in job.items()).encode()


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


TARGET = Target(
    name="jobs",
    endings=(".toml",),
    read=_read,
    mutate=_mutate,
    beside=_beside,
)
