"""What compiled loops need is loaded once, ahead of them."""

import json
import subprocess
import sys
from pathlib import Path

import numba
import pytest

CODE = """
import json, sys
import toolpath.field.kernels as kernels
from kernel_calls import CALLS
from toolpath.field.kernels.starting import start

def loaded():
    return {name for name in sys.modules if name.startswith("numba")}

before = loaded()
start()
started = loaded()
for call in CALLS.values():
    call()
print(json.dumps([len(started - before), sorted(loaded() - started)]))
"""


@pytest.mark.skipif(numba.config.DISABLE_JIT, reason="nothing is compiled in this lane")
def test_later_calls_load_nothing_but_the_threads():
    tools = str(Path(__file__).parents[2] / "tools")
    code = f"import sys; sys.path[:0] = {[tools]}\n{CODE}"
    for _ in range(2):  # first so that all is compiled: who compiles loads more
        run = subprocess.run(
            [sys.executable, "-c", code], capture_output=True, text=True, check=True
        )
    ahead, later = json.loads(run.stdout)
    assert ahead > 50
    assert all(name.startswith("numba.np.ufunc") for name in later), later
