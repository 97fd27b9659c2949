"""`keepclear plan`: the main job."""

from __future__ import annotations

import argparse
from pathlib import Path

from toolpath.cli.console import Console

HELP = "plan a job: programs, pictures, sheet and plan.json, written only where all is clear"


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Declare the command."""
    command = commands.add_parser("plan", help=HELP, description=HELP, allow_abbrev=False)
    command.add_argument("job", metavar="JOB", type=Path, help="the job file (TOML)")
    command.add_argument(
        "-o",
        "--out",
        metavar="DIR",
        type=Path,
        help="folder for the results (default: beside the job, its name and -plan); an older "
        "set of programs, pictures, sheet and plan.json in it is taken away first",
    )
    command.add_argument(
        "--no-pictures", action="store_true", help="no pictures, and a sheet without them"
    )
    command.add_argument(
        "--json", action="store_true", help="print plan.json on stdout and nothing else (mm, s)"
    )
    command.set_defaults(run=run)


def run(options: argparse.Namespace, console: Console) -> int:
    """Plan, print, and give 0 (clear) or 3 (refused)."""
    from toolpath.app.plan import plan

    with console.progress() as progress:
        done = plan(options.job, options.out, pictures=not options.no_pictures, progress=progress)
    from toolpath.cli.words import CHECKED, say_cuts  # they load much, of which the plan has most
    from toolpath.show.times import time_words, times_of
    from toolpath.show.words import duration

    say_cuts(done.scene, console)
    programs = [program for scene in done.scene.every for program in scene.programs]
    cuts = done.payload["cuts"] + [cut for each in done.payload["plates"] for cut in each["cuts"]]
    if done.clear:
        total = duration(sum(program.seconds for program in programs))
        console.say(f"clear: {len(cuts)} cuts in {len(programs)} programs, {total}")
        for words in time_words(times_of(done.scene)):
            console.say(f"time: {words}")
        console.say(CHECKED)
        beside = ", pictures" if done.pictures else ""
        console.say(
            f"written: {done.folder / 'programs'}, rehearsal, sheet.html, plan.json{beside}"
        )
    else:
        refused = sum(cut["verdict"] == "refused" for cut in cuts)
        console.say(f"refused: {refused} of {len(cuts)} cuts; no program was written")
        beside = " and the pictures beside it" if done.pictures else ""
        console.say(f"see {done.folder / 'sheet.html'}{beside}")
    console.json(done.payload)
    return 0 if done.clear else 3
