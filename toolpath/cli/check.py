"""`keepclear check`: judges any program, whoever wrote it."""

from __future__ import annotations

import argparse
from pathlib import Path

from toolpath.cli.console import Console

HELP = "replay any RS-274 program against the blank and its pieces"


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Declare the command."""
    command = commands.add_parser("check", help=HELP, description=HELP, allow_abbrev=False)
    command.add_argument("job", metavar="JOB", type=Path, help="the job file (TOML)")
    command.add_argument("program", metavar="PROGRAM", type=Path, help="the program to judge")
    command.add_argument(
        "--face",
        required=True,
        choices=["front", "back", "plate"],
        help="the face that is up; plate: the sheet that a plate is cut from",
    )
    command.add_argument(
        "--plate",
        metavar="CUT",
        default="",
        help="whose plate it is, by the name of the cut that it is for; needed with --face plate "
        "where the job has several plates",
    )
    command.add_argument(
        "--cutter", required=True, metavar="NAME", help="the cutter in the spindle, by its name"
    )
    command.add_argument(
        "--after",
        nargs=3,
        action="append",
        default=[],
        metavar=("FACE", "CUTTER", "PROGRAM"),
        help="a program already run, so that the stock is known; give it again for each, in "
        "order. Without it, rapids and shank in stock are notes",
    )
    command.add_argument(
        "--uncut",
        action="store_true",
        help="nothing has been cut yet: judge rapids, shank and nut against the whole blank",
    )
    command.add_argument(
        "--json", action="store_true", help="print one JSON object on stdout (mm, mm/min, s)"
    )
    command.set_defaults(run=run)


def run(options: argparse.Namespace, console: Console) -> int:
    """Judge, print, and give 0 (clear) or 3 (refused)."""
    from toolpath.app.check import Run, check
    from toolpath.app.payload import of_report
    from toolpath.cli.words import CHECKED, engaged_text, finding_text, place
    from toolpath.show.words import duration
    from toolpath.units import show_left

    asked = Run(
        face=options.face, cutter=options.cutter, program=options.program, plate=options.plate
    )
    after = [Run(face=f, cutter=c, program=Path(p)) for f, c, p in options.after]
    with console.progress() as progress:
        done = check(options.job, asked, after, uncut=options.uncut, progress=progress)
    report = done.report
    for warned in done.job.warnings:
        console.notice(f"warning: {warned.where}: {warned.message}")
    for finding in report.findings:
        console.say(finding_text(finding))
    if report.closest is not None:
        near = report.closest
        console.say(
            f"closest: {near.part.value} {show_left(near.gap, done.job.unit)} from {near.piece}"
        )
        console.say(f"         line {near.line}, tip in the blank at {place(near.at)}")
    if report.engaged is not None:
        console.say(engaged_text(report.engaged, done.job.unit))
    console.say(f"{report.verdict.value}: {report.moves} moves, {duration(report.seconds)}")
    if not (after or options.uncut):
        console.say("not judged: rapids, shank and nut in stock, without --after or --uncut")
    if report.verdict.value == "clear":
        console.say(CHECKED)
    console.json(of_report(report))
    return 0 if report.verdict.value == "clear" else 3
