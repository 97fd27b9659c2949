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


@lane
def test_an_empty_place_means_that_loops_must_be_compiled(tmp_path):
    code = "from toolpath.field.kernels.compiled import must_compile; print(must_compile())"
    run = subprocess.run(
        [sys.executable, "-c", code],
        env={"NUMBA_CACHE_DIR": str(tmp_path), "PYTHONPATH": str(Path(__file__).parents[3])},
        capture_output=True,
        text=True,
        check=True,
    )
    assert run.stdout == "True\n"
