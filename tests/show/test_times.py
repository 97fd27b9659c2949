from dataclasses import replace

import pytest

from toolpath.show.times import PAUSE, time_words, times_of


def test_times_add_up(scene):
    times = times_of(scene)
    programs = [program for each in scene.every for program in each.programs]
    assert times.programs == len(programs)
    assert times.running == pytest.approx(sum(program.seconds for program in programs))
    assert times.whole == pytest.approx(times.running + len(programs) * 120.0)
    names = [program.cutter.name for program in programs]
    assert [name for name, _ in times.cutters] == list(dict.fromkeys(names))


def test_pauses_and_changes_are_those_of_the_machine(scene):
    machine = replace(scene.job.machine, spindle_wait=None, change=30.0)
    times = times_of(replace(scene, job=replace(scene.job, machine=machine)))
    assert times.pauses == PAUSE * times.programs
    assert times.changes == 30.0 * times.programs
    each, whole = time_words(times)
    assert all(name in each for name, _ in times.cutters)
    assert "30 s each" in whole and "stops for the spindle" in whole


def test_the_words_of_one_program(scene):
    first = scene.programs[0]
    first = replace(first, seconds=75.0)
    one = replace(scene, programs=(first,), plates=())
    assert time_words(times_of(one)) == (
        f"{first.cutter.name}: 1 min 15 s",
        "3 min 15 s in all, with 1 cutter put in and touched off, 2 min 00 s each",
    )
