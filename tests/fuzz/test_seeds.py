"""Every input worth keeping, among them all that once ended as it must not, read once more."""

from contextlib import suppress
from importlib import import_module
from pathlib import Path
from random import Random

import pytest
from fuzz import target as judge
from fuzz.target import Target, TooLong, Unsound, packed, run, unpacked

from toolpath.errors import DrawingError

TARGETS = [
    import_module(f"fuzz.{name}").TARGET for name in ("interpreter", "jobs", "dxf", "svg", "meshes")
]
SEEDS = [
    (target, path)
    for target in TARGETS
    for path in sorted((Path(__file__).parent / "seeds" / target.name).iterdir())
]


@pytest.mark.parametrize(("target", "seed"), SEEDS, ids=lambda each: getattr(each, "name", None))
def test_a_kept_input_ends_in_an_answer_or_an_error_of_our_own(target, seed, tmp_path) -> None:
    target.beside(tmp_path)
    outcome = run(target, seed.read_bytes(), seed.suffix, tmp_path)
    assert not outcome.fault, outcome.details


@pytest.mark.parametrize("target", TARGETS, ids=lambda target: target.name)
def test_every_target_has_kept_answers_and_errors(target, tmp_path) -> None:
    target.beside(tmp_path)
    kinds = " ".join(
        run(target, seed.read_bytes(), seed.suffix, tmp_path).kind
        for each, seed in SEEDS
        if each is target
    )
    assert "answer" in kinds and "Error" in kinds


@pytest.mark.parametrize("target", TARGETS, ids=lambda target: target.name)
def test_mutations_are_packed_and_read(target, tmp_path) -> None:
    target.beside(tmp_path)
    rng, changed = Random(3), 0
    for _, seed in [each for each in SEEDS if each[0] is target][:8]:
        before = seed.read_bytes()
        content = target.mutate(before, seed.suffix, rng)
        changed += content != before
        assert unpacked(packed(content, seed.suffix, target), target) == (content, seed.suffix)
        assert not run(target, content, seed.suffix, tmp_path).fault
    assert changed >= 3


def ending(tmp_path, read, seconds=5.0):
    made = Target(name="a", endings=(".a",), read=read, mutate=lambda *_: b"", seconds=seconds)
    return run(made, b"x", ".a", tmp_path)


def test_the_judge_tells_what_must_not_be(tmp_path) -> None:
    def raising(error):
        def read(path):
            raise error

        return ending(tmp_path, read)

    assert raising(DrawingError("part.dxf: no outline")).fault == ""
    assert raising(DrawingError("")).fault == "an empty message"
    assert "characters" in raising(DrawingError("x" * 5000)).fault
    assert raising(KeyError("x")).fault.startswith("KeyError at test_seeds.py")
    assert raising(MemoryError()).fault.startswith("MemoryError")
    assert raising(Unsound("half")).fault.startswith("Unsound")


def test_the_judge_bounds_time_and_memory(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(judge, "MEMORY", 50 * 2**20)

    def forever(path):
        while True:
            with suppress(Exception):  # as a reader's own net
                sum(range(1000))

    def greedy(path):
        return f"{len(bytearray(400 * 2**20))} bytes"

    assert ending(tmp_path, forever, 0.2).fault == "more than 0.2 s"
    assert ending(tmp_path, greedy).fault.startswith("memory: ")
    assert not issubclass(TooLong, Exception)
