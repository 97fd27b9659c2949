"""The `keepclear` command: finds the command, prints its result, gives its exit code."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from typing import NoReturn

from toolpath import __version__
from toolpath.cli import check, new, plan, preview
from toolpath.cli.console import Console, OutputError, printing
from toolpath.errors import Fault, FaultsError, InternalError, KeepclearError, ProgramError

CLEAR, FAILED, WRONG, REFUSED = 0, 1, 2, 3

_DESCRIPTION = """\
Plans router cuts in clear-resin castings and checks every move of cutter, shank and collet nut
against the pieces in the casting. It writes programs only where all of them are clear."""

_EPILOG = """\
exit codes: 0 all clear; 2 the command line, the job or the program is wrong or cannot be judged;
3 refused; 1 anything else. Lengths on the command line and in JSON are mm."""


class _Parser(argparse.ArgumentParser):
    """A parser whose complaints are faults like all others."""

    def error(self, message: str) -> NoReturn:
        mend = f"see {self.prog} --help"
        raise FaultsError([Fault(file="command line", where="", message=f"{message}: {mend}")])

    def _print_message(self, message: str, file: object = None) -> None:
        """Help and version are results too: where they cannot be printed, it is said."""
        with printing():
            sys.stdout.write(message)
            sys.stdout.flush()


def parser() -> argparse.ArgumentParser:
    """The whole command line."""
    top = _Parser(
        prog="keepclear",
        allow_abbrev=False,
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    top.add_argument("--version", action="version", version=f"keepclear {__version__}")
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for command in (plan, check, preview, new):
        command.add(commands)
    return top


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; every message is printed here or below."""
    words = list(sys.argv[1:] if arguments is None else arguments)
    console = Console(as_json="--json" in words)
    try:
        options = parser().parse_args(words)
        code = int(options.run(options, console))
        console.flush()
        return code
    except FaultsError as error:
        console.faults(error.faults)
        return WRONG
    except ProgramError as error:
        console.faults([Fault(file="program", where="", message=str(error))])
        return WRONG
    except InternalError as error:
        console.trouble(f"internal error, please report it: {error}")
    except KeepclearError as error:
        console.trouble(str(error))
    except MemoryError:
        console.trouble("out of memory: use a larger [check] cell")
    except BrokenPipeError:
        raise
    except OutputError as error:
        console.trouble(f"standard output: {error}")
    except OSError as error:
        console.trouble(f"{error.filename or 'input or output'}: {error.strerror or error}")
    except KeyboardInterrupt:
        console.trouble("stopped")
    except Exception as error:  # the last net: a defect is said in words, never as a traceback
        console.trouble(f"internal error, please report it: {type(error).__name__}: {error}")
    return FAILED
