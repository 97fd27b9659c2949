"""`keepclear new`: a starter job to change."""

from __future__ import annotations

import argparse
from pathlib import Path

from toolpath.cli.console import Console

HELP = "write a commented starter job that plans as it stands"


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Declare the command."""
    command = commands.add_parser("new", help=HELP, description=HELP, allow_abbrev=False)
    command.add_argument("folder", metavar="DIR", type=Path, help="folder to write job.toml into")
    command.add_argument(
        "--json", action="store_true", help="print one JSON object on stdout and nothing else"
    )
    command.set_defaults(run=run)


def run(options: argparse.Namespace, console: Console) -> int:
    """Write the job; an existing one is never overwritten."""
    from toolpath.app.new import new_job

    path = new_job(options.folder)
    console.say(f"written: {path}")
    console.say(f"next:    keepclear plan {path}")
    console.json({"verdict": "clear", "file": str(path)})
    return 0
