import pytest

from toolpath.job.model import Measured

WHERE = "job.toml: measured: "


@pytest.fixture
def found(edited):
    """The clock as it was measured."""

    def job(measured: str, *changes: tuple[str, str]) -> str:
        return f"measured = {measured}\n" + edited(*changes)

    return job


def test_as_found(alarms, read, clock, found) -> None:
    assert read(clock).measured is None
    within = ("thickness = 42", "thickness = 42\nthickness_within = 0.3")
    job = read(found("{ size = [199.5, 150.4], thickness = 41.7 }", within))
    assert job.measured == Measured(size=(199.5, 150.4), thickness=41.7)
    assert alarms(job) == []


def test_a_thickness_outside_its_limits_is_warned_of(alarms, read, found) -> None:
    within = ("thickness = 42", "thickness = 42\nthickness_within = 0.3")
    (warned,) = alarms(read(found("{ size = [200, 150], thickness = 42.4 }", within)))
    assert warned.where == "measured: thickness"
    assert warned.message.startswith(
        "42.4 mm is 0.4 mm off the 42 mm of the blank, more than its thickness_within (0.3 mm)"
    )


def test_a_tenth_off_is_taken(read, found) -> None:
    assert read(found("{ size = [220, 135], thickness = 42 }")).measured.size == (220.0, 135.0)


MEASURED = [
    ("{ size = [220.1, 150], thickness = 42 }",
     "size[1]: 220.1 mm is more than 10 % off the 200 mm of the blank: measure again, or mend the "
     "outline of the blank"),
    ("{ size = [200, 134.9], thickness = 42 }",
     "size[2]: 134.9 mm is more than 10 % off the 150 mm of the blank"),
    ("{ size = [200, 150], thickness = 37.7 }",
     "thickness: 37.7 mm is more than 10 % off the 42 mm of the blank: measure again, or mend the "
     "thickness of the blank"),
    ("{ size = [200, 150] }", "thickness: missing: give a length"),
    ("{ thickness = 42 }", "size: missing: give [x, y]"),
    ("{ size = [200, 150], thickness = 42, width = 3 }", "width: unknown key: "),
]  # fmt: skip


@pytest.mark.parametrize(("measured", "line"), MEASURED)
def test_measures_that_are_wrong(faults, found, measured: str, line: str) -> None:
    (told,) = faults(found(measured))
    assert told.startswith(WHERE + line)


def test_the_cuts_of_the_second_face_must_stay_within(faults, read, found) -> None:
    thin = "{ size = [200, 150], thickness = 41 }"
    deep = ("depth = 1.5", "depth = 41.5")
    long = ("flute_length = 10\nreach = 30", "flute_length = 45\nreach = 50")
    assert faults(found(thin, deep, long)) == [
        f'{WHERE}thickness: 41 mm is less than the 41.5 mm that the cut "minute ring" goes down: '
        "give it less depth"
    ]
    # Cuts of the first face are made already.
    first = ("depth = 20", "depth = 41.5")
    assert read(found(thin, first, ("flute_length = 35", "flute_length = 45")))


def test_a_measured_blank_needs_a_second_face(faults, found) -> None:
    text = found(
        "{ size = [200, 150], thickness = 42 }",
        ('name = "works"\nface = "back"', 'name = "works"\nface = "front"'),
    )
    assert faults(text) == [
        "job.toml: measured: re-plans the second face, and all cuts are on one: leave it out"
    ]
