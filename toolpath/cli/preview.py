"""`keepclear preview`: pictures only."""

from __future__ import annotations

import argparse
from pathlib import Path

from toolpath.cli.console import Console

HELP = "pictures of a job, without programs"


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Declare the command."""
    command = commands.add_parser("preview", help=HELP, description=HELP, allow_abbrev=False)
    command.add_argument("job", metavar="JOB", type=Path, help="the job file (TOML)")
    command.add_argument(
        "-o",
        "--out",
        metavar="DIR",
        type=Path,
        help="folder for the pictures (default: beside the job, its name and -plan); what else "
        "an older plan left in it is taken away, since it may not fit the job any more",
    )
    command.add_argument(
        "--section",
        nargs=4,
        type=float,
        action="append",
        default=[],
        metavar=("X0", "Y0", "X1", "Y1"),
        help="also cut the blank open along this line and look at it from the side: two places "
        "of the front view, in the unit of the job; give it again for more",
    )
    command.add_argument(
        "--json", action="store_true", help="print one JSON object on stdout (mm, s)"
    )
    command.set_defaults(run=run)


def run(options: argparse.Namespace, console: Console) -> int:
    """Draw, print, and give 0 (clear) or 3 (refused)."""
    from toolpath.app.preview import preview
    from toolpath.cli.words import say_cuts

    with console.progress() as progress:
        lines = [((x0, y0), (x1, y1)) for x0, y0, x1, y1 in options.section]
        done = preview(options.job, options.out, sections=lines, progress=progress)
    say_cuts(done.scene, console)
    for picture in done.pictures:
        console.say(f"drawn: {picture}")
    console.json(done.payload)
    return 0 if done.clear else 3
