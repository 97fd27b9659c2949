"""Whoever has the library loaded draws without loading more of it."""

import subprocess
import sys

CODE = """
import sys
from pathlib import Path
import toolpath.show.library
from toolpath.app.new import new_job
from toolpath.app.plan import plan

def loaded():
    return {name for name in sys.modules if name.startswith("matplotlib.") and ".style" not in name}

before = loaded()
done = plan(new_job(Path(sys.argv[1])), None)
print(len(done.pictures) > 3, sorted(loaded() - before))
"""


def test_all_that_pictures_use_is_loaded(tmp_path):
    command = [sys.executable, "-c", CODE, str(tmp_path / "tray")]
    run = subprocess.run(command, capture_output=True, text=True, check=True)
    assert run.stdout == "True []\n"
