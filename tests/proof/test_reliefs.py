"""Random maps over random pieces, planned: judged by the check and by the second geometry.

`python tests/proof/run.py --reliefs 300` is the long run.
"""

from dataclasses import replace

import numpy as np
import pytest
from proof.reliefs import GOUGE, Map, gouge_of, one_relief, planned_texts, random_relief
from proof.truth import truth_of

SHORT = [1, 5, 9, 11, 13, 26, 49, 308]


def test_no_planned_relief_comes_too_near_or_goes_under_its_map():
    results = [one_relief(seed) for seed in SHORT]
    assert [result for result in results if result.false] == []
    planned = [result for result in results if result.word == "planned"]
    assert {result.rule for result in planned} == {"stop", "rise", "pillar"}
    assert max(result.breach for result in planned) > -0.1  # some are near


@pytest.mark.parametrize("seed", [9])
def test_the_truth_finds_what_errs_by_hundredths(seed):
    job, asked, _, _ = random_relief(seed)
    (text,) = planned_texts(job)
    assert gouge_of(job, text, asked) <= GOUGE
    raised = Map(asked.points + np.array([0.0, 0.0, 0.03]))
    assert gouge_of(job, text, raised) > GOUGE
    pieces = tuple(replace(piece, clearance=piece.clearance + 0.04) for piece in job.pieces)
    assert truth_of(job, text).breach <= 0.0
    assert truth_of(replace(job, pieces=pieces), text).breach > 0.0
