"""The list of mutations fits the tree, and the command tells caught from survived."""

import ast
import sys
from dataclasses import replace
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path

import pytest

SPEC = spec_from_file_location("run_mutations", Path(__file__).with_name("run.py"))
run = sys.modules["run_mutations"] = module_from_spec(SPEC)
SPEC.loader.exec_module(run)

MUTATIONS = {mutation.name: mutation for mutation in run.mutations()}
JUDGED = ("toolpath/check/", "toolpath/rs274/", "toolpath/field/", "toolpath/cli/check.py")


def test_there_are_enough_and_no_name_is_given_twice() -> None:
    assert len(run.mutations()) == len(MUTATIONS)
    assert len(MUTATIONS) >= 30


@pytest.mark.parametrize("mutation", MUTATIONS.values(), ids=MUTATIONS.keys())
def test_a_mutation_fits_the_tree(mutation) -> None:
    assert mutation.file.startswith(JUDGED)
    whole = (run.ROOT / mutation.file).read_text(encoding="utf-8")
    broken = mutation.of(whole)  # raises where the old text does not stand there once
    assert ast.dump(ast.parse(broken)) != ast.dump(ast.parse(whole))
    assert mutation.effect
    assert mutation.tests
    assert all((run.ROOT / test.partition("::")[0]).is_file() for test in mutation.tests)


def test_two_that_are_caught_and_one_that_cannot_be() -> None:
    caught = [MUTATIONS["centre-absolute"], MUTATIONS["vee-angle-doubled"]]
    # Where frames are worked out is nothing to the words of a line.
    blind = replace(MUTATIONS["turning-swapped"], tests=("tests/rs274/test_words.py",))
    first, second, third = run.judge_all([*caught, blind], workers=1)
    assert "tests/rs274/test_arcs.py::" in first.caught_by, first.line()
    assert "tests/check/test_gap.py::" in second.caught_by, second.line()
    assert third.line().startswith("SURVIVED"), third.line()


def test_a_module_that_does_not_load_is_not_caught() -> None:
    wrong = replace(MUTATIONS["centre-absolute"], new="raise (")
    (outcome,) = run.judge_all([wrong], workers=1)
    assert outcome.line().startswith("BROKEN"), outcome.line()
    assert not outcome.caught_by


def test_an_old_text_that_is_gone_is_an_error() -> None:
    with pytest.raises(ValueError, match="centre-absolute: its old text stands 0 times"):
        MUTATIONS["centre-absolute"].of("another file")
