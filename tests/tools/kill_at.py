"""Plans a job again and again, each time killed one writing step later, and looks at what is left.

    python tests/tools/kill_at.py hook|strace JOB OUT OLD

Each run is a copy of this process, which has planned the job once and so is warm. `hook` kills at
the audit events of Python that write (PEP 578); `strace` at the system calls that write, those of
the copies of a run too. OUT is filled with the older set OLD before each run. Prints one JSON
object: how many runs were killed, how many found each state, and whatever was wrong.
"""

import json
import os
import shutil
import signal
import subprocess
import sys
import time
import warnings
from collections import Counter
from collections.abc import Callable
from functools import partial
from pathlib import Path

from toolpath.app import publish
from toolpath.app.plan import plan
from toolpath.app.progress import silent

STEPS = {"os.rename", "os.mkdir", "os.remove", "os.rmdir", "os.truncate", "os.link", "os.symlink"}
CALLS = ("write", "writev", "pwrite64", "ftruncate", "fsync", "rename")
CALLS += ("renameat", "renameat2", "mkdir", "mkdirat", "unlink", "unlinkat", "rmdir")
WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC
MOST = 1000
Kill = Callable[[Path, Path, int], int]
Texts = dict[str, bytes]


def texts(folder: Path) -> Texts:
    """What a maker sees: every file that is not in a scratch folder."""
    return {
        name: path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and not (name := str(path.relative_to(folder))).startswith(".keepclear-")
    }


def hooked(step: int) -> None:
    """Kill this process, or a copy of it, before its writing step of that number."""
    left = [step]

    def count(event: str, words: tuple) -> None:
        if event in STEPS or (event == "open" and isinstance(words[2], int) and words[2] & WRITES):
            left[0] -= 1
            if left[0] == 0:
                os.kill(os.getpid(), signal.SIGKILL)

    sys.addaudithook(count)


def run_in_copy(job: Path, out: Path, before: Callable[[], None]) -> int:
    """Plan in a copy of this process; its number."""
    with warnings.catch_warnings():  # of threads of compiled libraries, from Python 3.12 on
        warnings.simplefilter("ignore", DeprecationWarning)
        number = os.fork()
    if number == 0:
        code = 1
        try:
            before()
            plan(job, out, pictures=PICTURES, progress=silent)
            code = 0
        finally:
            os._exit(code)
    return number


def killed_by_hook(job: Path, out: Path, step: int) -> int:
    return os.waitstatus_to_exitcode(os.waitpid(run_in_copy(job, out, lambda: hooked(step)), 0)[1])


def killed_by_strace(call: str, job: Path, out: Path, step: int) -> int:
    """Killed at a system call of one kind; the run waits until it is watched."""
    number = run_in_copy(job, out, lambda: os.kill(os.getpid(), signal.SIGSTOP))
    os.waitpid(number, os.WUNTRACED)
    rule = f"inject={call}:signal=KILL:when={step}"
    words = ["strace", "-f", "-o", "/dev/null", "-e", f"trace={call}", "-e", rule]
    with subprocess.Popen([*words, "-p", str(number)], stderr=subprocess.PIPE) as watch:
        watch.stderr.readline()  # attached
        os.kill(number, signal.SIGCONT)
        return os.waitstatus_to_exitcode(os.waitpid(number, 0)[1])


def state(found: Texts, old: Texts, new: Texts) -> str:
    """What is left: all of a set, none of its programs, or what must never be."""
    if found == new:
        return "new set"
    if found == old:
        return "old set, untouched"
    if not found:
        return "nothing"
    if any(name.startswith("programs/") for name in found):
        return "WRONG: " + ", ".join(found)
    older = [name for name in found if found[name] == old.get(name)]
    newer = [name for name in found if found[name] == new.get(name)]
    if set(older) | set(newer) != set(found) or (older and set(newer) - set(older)):
        return "MIXED: " + ", ".join(found)
    return "no programs"


def survey(kills: list[Kill], job: Path, out: Path, old: Path) -> dict:
    """Kill at every step of every kind until a run ends by itself."""
    fresh = out.parent / "fresh"
    plan(job, fresh, pictures=PICTURES)
    old_texts, new_texts = texts(old), texts(fresh)
    states: Counter[str] = Counter()
    wrong: list[object] = []
    for kill in kills:
        wrong += stepped(kill, (job, out, old), (old_texts, new_texts), states)
    return {"states": states, "wrong": wrong}


def stepped(
    kill: Kill, places: tuple[Path, Path, Path], sets: tuple[Texts, Texts], states: Counter[str]
) -> list[object]:
    """Kill at every step; what must never be."""
    job, out, old = places
    wrong: list[object] = []
    for step in range(1, MOST):
        shutil.rmtree(out, ignore_errors=True)
        shutil.copytree(old, out)
        code = kill(job, out, step)
        found = state(texts(out), *sets)
        states[found] += 1
        publish.clear(out)  # no copy may still hold it or write there
        time.sleep(0.001)
        if list(out.iterdir()) or found[:5] in ("WRONG", "MIXED"):
            wrong.append([step, found, [path.name for path in out.iterdir()]])
        if code != -signal.SIGKILL:
            if (code, found) != (0, "new set"):
                wrong.append([step, code, found])
            return wrong
    raise SystemExit(f"not done after {MOST} steps")


PICTURES = "--pictures" in sys.argv

if __name__ == "__main__":
    by_calls = [partial(killed_by_strace, call) for call in CALLS]
    kills = [killed_by_hook] if sys.argv[1] == "hook" else by_calls
    print(json.dumps(survey(kills, *map(Path, sys.argv[2:5]))))
