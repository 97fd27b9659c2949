"""How the loops are compiled: each once, and kept for the next run."""

import json
import subprocess
import sys
from pathlib import Path

import numba
import pytest
from kernel_calls import CALLS

from toolpath.field import kernels
from toolpath.field.kernels.compiled import must_compile

lane = pytest.mark.skipif(numba.config.DISABLE_JIT, reason="nothing is compiled in this lane")
EXPORTED = {name: getattr(kernels, name) for name in kernels.__all__ if name.islower()}

NEXT_RUN = """
import json
from kernel_calls import CALLS
from toolpath.field import kernels
for call in CALLS.values():
    call()
found = {name: getattr(kernels, name) for name in CALLS}
print(json.dumps({name: [sum(k.stats.cache_hits.values()), sum(k.stats.cache_misses.values())]
    for name, k in found.items()}))
"""


def test_every_kernel_is_called_here():
    assert EXPORTED.keys() == CALLS.keys()


@lane
def test_kernels_are_compiled_once_and_read_from_the_disk_by_the_next_run():
    for call in CALLS.values():
        call()
    assert not must_compile()
    path = f"import sys; sys.path[:0] = {[str(Path(__file__).parents[2] / 'tools')]}\n"
    run = subprocess.run(
        [sys.executable, "-c", path + NEXT_RUN], capture_output=True, text=True, check=True
    )
    assert json.loads(run.stdout) == {name: [1, 0] for name in CALLS}


@lane
@pytest.mark.parametrize("name", EXPORTED)
def test_one_signature_each(name):
    CALLS[name]()
    assert len(EXPORTED[name].signatures) == 1


ROOT = Path(__file__).parents[3]
ONE = """
from kernel_calls import CALLS
from toolpath.field import kernels
CALLS["thin_over"]()
found = kernels.thin_over.stats
print(sum(found.cache_hits.values()), sum(found.cache_misses.values()))
"""


def printed(code: str, place: Path | str, **more: str) -> str:
    """What code prints whose kernels are kept in a place."""
    paths = f"{ROOT}:{ROOT}/tests/tools"
    run = subprocess.run(
        [sys.executable, "-c", code],
        env={"NUMBA_CACHE_DIR": str(place), "PYTHONPATH": paths, **more},
        capture_output=True,
        text=True,
        check=True,
    )
    assert run.stderr == ""
    return run.stdout


MUST = "from toolpath.field.kernels.compiled import must_compile; print(must_compile())"


@lane
def test_an_empty_place_means_that_loops_must_be_compiled(tmp_path):
    assert printed(MUST, tmp_path) == "True\n"


@lane
@pytest.mark.parametrize(("kind", "left"), [("nbi", 0), ("nbc", 100)])  # the list; the code itself
def test_a_damaged_kernel_is_compiled_anew_and_kept(tmp_path, kind, left):
    """As a machine that was switched off leaves files: empty, or cut short."""
    assert printed(ONE, tmp_path) == "0 1\n"
    (damaged,) = tmp_path.rglob(f"*thin_over*.{kind}")
    damaged.write_bytes(damaged.read_bytes()[:left])
    assert printed(ONE, tmp_path) == "0 1\n"
    assert printed(ONE, tmp_path) == "1 0\n"


@lane
def test_nothing_can_be_kept(tmp_path):
    """No file may hold a byte, as on a full disk (getrlimit(2))."""
    limit = "import resource; resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))"
    assert printed(limit + ONE, tmp_path) == "0 1\n"
    assert not any(path.stat().st_size for path in tmp_path.rglob("*") if path.is_file())


@lane
def test_no_place_to_keep_anything(tmp_path):
    """The library finds no folder (its own variable, NUMBA_CACHE_LOCATOR_CLASSES, names where it
    looks)."""
    nowhere = {"NUMBA_CACHE_LOCATOR_CLASSES": "UserProvidedCacheLocator"}
    assert printed(ONE, "/dev/null/none", **nowhere) == "0 1\n"
    assert printed(MUST, "/dev/null/none", **nowhere) == "True\n"
