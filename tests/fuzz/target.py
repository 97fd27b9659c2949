"""What is fuzzed, and what may come of it: an answer or one of the project's own errors."""

import resource
import signal
import time
import traceback
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from random import Random

from toolpath.errors import DrawingError, FaultsError, ProgramError

OWN = (FaultsError, DrawingError, ProgramError)
"""What the command turns into exit code 2."""

MEMORY = 2**30
"""Most memory that reading one input may take, bytes; inputs are small."""

LONGEST = 3000
"""Most characters of one message: it is for a person to read."""


class Unsound(Exception):  # noqa: N818
    """An answer that is none, or two ways that do not agree."""


class TooLong(BaseException):
    """The time is up; no reader's own net may catch it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """A reader. `read` takes a file and gives a word for the ending; `mutate` takes the content,
    its file ending and randomness; `seconds` is processor time for one input. Files of `beside`
    lie in the folder of the input."""

    name: str
    endings: tuple[str, ...]
    read: Callable[[Path], str]
    mutate: Callable[[bytes, str, Random], bytes]
    seconds: float = 5.0
    beside: Callable[[Path], None] = lambda folder: None


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """How one input ended. `fault` names what must not be, empty where all is well."""

    kind: str
    seconds: float
    memory: int
    fault: str = ""
    details: str = ""


def packed(content: bytes, ending: str, target: Target) -> bytes:
    """An input as the fuzzer holds it: the file's ending in its first line, where it matters."""
    return content if len(target.endings) == 1 else ending.encode() + b"\n" + content


def unpacked(data: bytes, target: Target) -> tuple[bytes, str]:
    """Content and ending of an input."""
    if len(target.endings) == 1:
        return data, target.endings[0]
    head, _, content = data.partition(b"\n")
    known = {ending.encode(): ending for ending in target.endings}
    return content, known.get(head, target.endings[sum(head) % len(target.endings)])


def run(target: Target, content: bytes, ending: str, folder: Path) -> Outcome:
    """Read one input within its bounds."""
    path = folder / f"input{ending}"
    path.write_bytes(content)
    before, said = _reset_peak(), []
    start, fault, details = time.process_time(), "", ""
    try:
        with _listening(said), _bounded(target.seconds):
            kind = target.read(path)
    except OWN as error:
        kind = type(error).__name__
        fault = _too_wordy(error)
        details = str(error)
    except TooLong:
        kind, details = "too long", traceback.format_exc()
        fault = f"more than {target.seconds:g} s"
    except Exception as error:
        kind, details = "defect", traceback.format_exc()
        fault = f"{type(error).__name__} at {_place(error)}"
    seconds = time.process_time() - start
    if said and not fault:
        fault, details = f"prints {said[0][:80]}", "\n".join(said)
    memory = _peak() - before
    if memory > MEMORY and not fault:
        fault = f"memory: {memory / 2**20:.0f} MiB"
    return Outcome(kind=kind, seconds=seconds, memory=memory, fault=fault, details=details)


@contextmanager
def _listening(said: list[str]) -> Iterator[None]:
    """Note the warnings of Python, which a test would take for errors."""
    with warnings.catch_warnings():
        warnings.showwarning = lambda message, kind, file, line, *_: said.append(
            f"{kind.__name__} in {Path(file).name}: {message}"
        )
        yield


def _too_wordy(error: Exception) -> str:
    messages = [str(each) for each in getattr(error, "faults", ())] or [str(error)]
    if any(len(message) > LONGEST for message in messages):
        return f"{type(error).__name__} of more than {LONGEST} characters"
    return "" if all(message.strip() for message in messages) else "an empty message"


def _place(error: Exception) -> str:
    """The innermost line of the project, which tells one defect from another."""
    frames = traceback.extract_tb(error.__traceback__)
    ours = [frame for frame in frames if "/toolpath/" in frame.filename] or frames
    last = ours[-1]
    return f"{Path(last.filename).name}:{last.name}"


@contextmanager
def _bounded(seconds: float) -> Iterator[None]:
    def stop(*_: object) -> None:
        raise TooLong

    signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)


def _reset_peak() -> int:
    """Let the peak of this process's memory begin anew; bytes it has now."""
    with suppress(OSError):
        Path("/proc/self/clear_refs").write_text("5", encoding="ascii")
    return _peak()


def _peak() -> int:
    try:
        for line in Path("/proc/self/status").read_text(encoding="ascii").splitlines():
            if line.startswith("VmHWM:"):
                return int(line.split()[1]) * 1024
    except OSError:
        pass
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
