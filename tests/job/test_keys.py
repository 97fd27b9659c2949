import re
from pathlib import Path

import pytest

from toolpath.job import limits
from toolpath.job.keys import ALL, CUTS, CUTS_LATER, CUTTERS, SHAPES, SOLIDS
from toolpath.job.model import Hardness, ProfileSide, Shape, Side, SkimWay, TurnOver, Zero

PAGE = (Path(__file__).parents[2] / "docs/job-file.md").read_text(encoding="utf-8")
KEYS = sorted({key for keys in ALL for key in keys.names})
WORDS = sorted(
    {
        *(
            word.value
            for kind in (Hardness, ProfileSide, Shape, Side, SkimWay, TurnOver, Zero)
            for word in kind
        ),
        *CUTS,
        *CUTS_LATER,
        *CUTTERS,
        *SOLIDS,
        *SHAPES,
    }
)


@pytest.mark.parametrize("word", [*KEYS, *WORDS])
def test_every_key_and_word_stands_in_the_page(word: str) -> None:
    assert f"`{word}`" in PAGE or f'`"{word}"`' in PAGE


def test_the_job_of_the_page_can_be_read(read) -> None:
    (example,) = re.findall(r"^```toml\n(.*?)^```", PAGE, re.M | re.S)
    assert len(read(example).cuts) == 1


def test_the_fault_of_the_page_is_told_so(faults) -> None:
    (example,) = re.findall(r"^```toml\n(.*?)^```", PAGE, re.M | re.S)
    (shown,) = re.findall(r"^```text\n(.*?)\n```", PAGE, re.M | re.S)
    head, cut = example.split("[[cut]]")
    cuts = [cut, cut.replace("movement", "x"), cut.replace("movement", "minute track")]
    text = "[[cut]]".join([head, *cuts[:2], cuts[2].replace("depth = 20", "depth = 52")])
    assert faults(text) == [shown]


@pytest.mark.parametrize("limit", ["1,000", "10,000", "100,000", "5 MB", "100 keys", "500 MB"])
def test_the_limits_of_the_page(limit: str) -> None:
    ours = {
        "1,000": limits.MAX_FAULTS,
        "10,000": limits.MAX_ENTRIES,
        "100,000": limits.PLACE.high,
        "5 MB": limits.MAX_JOB_BYTES / 1e6,
        "100 keys": limits.MAX_KEYS,
        "500 MB": limits.MAX_MESH_BYTES / 1e6,
    }
    assert limit in PAGE
    assert float(limit.split()[0].replace(",", "")) == ours[limit]


def test_every_shape_of_cutter_has_keys() -> None:
    assert {shape.value for shape in Shape} <= set(CUTTERS)


def test_a_key_for_later_is_none_of_those_for_now() -> None:
    for keys in ALL:
        assert not set(keys.now) & set(keys.later)
        assert not set(keys.names) & set(keys.elsewhere)
