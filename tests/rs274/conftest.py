import pytest

from toolpath.errors import ProgramError
from toolpath.rs274.read import Program, read_program
from toolpath.rs274.write import ProgramText, Section
from toolpath.units import Unit

HEAD = "G17 G21 G90 G94 G54\nM3 S1000 F100\n"


def _run(body: str, *, head: str = HEAD, unit: Unit = Unit.MM) -> Program:
    return read_program(f"{head}{body}\nM2\n", unit=unit)


def _refused(body: str, *, head: str = HEAD) -> ProgramError:
    with pytest.raises(ProgramError) as caught:
        _run(body, head=head)
    return caught.value


def _spec(*sections: Section, **changes: object) -> ProgramText:
    values: dict[str, object] = {
        "title": ("Clock",),
        "unit": Unit.MM,
        "decimals": 4,
        "arcs": True,
        "rpm": 16000.0,
        "spindle_wait": 5.0,
        "wait_in_ms": False,
        "safe_height": 6.0,
        "sections": sections,
    }
    return ProgramText(**{**values, **changes})  # type: ignore[arg-type]


@pytest.fixture(scope="session")
def run():
    """Reads a body between a complete head and M2."""
    return _run


@pytest.fixture(scope="session")
def refused():
    """The error that a body between a complete head and M2 raises."""
    return _refused


@pytest.fixture(scope="session")
def spec():
    """A ProgramText of sections, with changes."""
    return _spec
