"""The docs, held against the program: printed texts, options, links, words."""

import importlib.util
import re
from pathlib import Path

import pytest

from toolpath.cli.main import parser

ROOT = Path(__file__).parents[2]
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").rglob("*.md"))]


def refresh():
    spec = importlib.util.spec_from_file_location("refresh", ROOT / "docs/refresh.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def blocks():
    module = refresh()
    for page in (ROOT / "docs").glob("*.md"):
        for match in module.BLOCK.finditer(page.read_text()):
            yield pytest.param(match["command"], match["text"], id=match["command"])


@pytest.mark.parametrize(("command", "text"), list(blocks()))
def test_printed_texts_are_what_is_printed(command: str, text: str, tmp_path: Path) -> None:
    assert refresh().printed(command, tmp_path) == text


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_links_lead_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\((?!http)([^)#]+)", page.read_text()):
        assert (page.parent / target).exists(), target


def subcommands():
    (action,) = (a for a in parser()._actions if a.dest == "command")
    return action.choices


@pytest.mark.parametrize("name", list(subcommands()))
def test_every_command_and_option_stands_in_its_page(name: str) -> None:
    page = (ROOT / "docs/commands.md").read_text()
    assert f"## keepclear {name} " in page
    section = page.split(f"## keepclear {name} ")[1].split("\n## ")[0]
    for action in subcommands()[name]._actions:
        assert action.help, action.dest
        for option in action.option_strings:
            if option not in ("-h", "--help"):
                assert f"`{option}" in section, option


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_no_page_promises_safety(page: Path) -> None:
    for line in page.read_text().splitlines():
        if re.search(r"\bsafe\b", line, re.I):
            assert re.search(r"never|\"safe\"|safe_height|safe height|safe side", line, re.I), line
