"""The rules of the house, held against the tree as it stands."""

import ast
import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
MODULES = sorted((ROOT / "toolpath").rglob("*.py"))


# Nouns without behaviour, thin skins that tests/e2e drives, and what a neighbour's tests cover.
WITHOUT_TESTS_OF_THEIR_OWN = {
    "app/load.py",
    "app/new.py",
    "app/preview.py",
    "app/progress.py",
    "check/report.py",
    "cli/new.py",
    "cli/plan.py",
    "cli/preview.py",
    "errors.py",
    "job/model.py",
    "job/ways.py",
    "plan/result.py",
    "rs274/program.py",
    "show/scene.py",
    "tolerances.py",
}


def functions(tree: ast.AST) -> list[ast.FunctionDef | ast.AsyncFunctionDef]:
    kinds = (ast.FunctionDef, ast.AsyncFunctionDef)
    return [node for node in ast.walk(tree) if isinstance(node, kinds)]


def test_imports_run_one_way(monkeypatch: pytest.MonkeyPatch) -> None:
    from importlinter.application.use_cases import SUCCESS
    from importlinter.cli import lint_imports

    monkeypatch.chdir(ROOT)
    assert lint_imports(no_cache=True) == SUCCESS or lint_imports(no_cache=True) == 0


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_modules_and_functions_stay_small(path: Path) -> None:
    text = path.read_text()
    assert len(text.splitlines()) <= 500
    for function in functions(ast.parse(text)):
        has_words = ast.get_docstring(function) and len(function.body) > 1
        first = function.body[1] if has_words else function.body[0]
        assert (function.end_lineno or 0) - first.lineno + 1 <= 50, function.name


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_everything_public_is_explained(path: Path) -> None:
    tree = ast.parse(path.read_text())
    assert ast.get_docstring(tree)
    for node in tree.body:
        if isinstance(node, (ast.FunctionDef, ast.ClassDef)) and not node.name.startswith("_"):
            assert ast.get_docstring(node), node.name


def test_check_never_names_plan() -> None:
    for path in (ROOT / "toolpath/check").glob("*.py"):
        assert "toolpath.plan" not in path.read_text(), path


def test_compiled_loops_live_in_one_package() -> None:
    users = [p for p in MODULES if re.search(r"^\s*(from|import) numba", p.read_text(), re.M)]
    assert {p.parent.relative_to(ROOT) for p in users} == {Path("toolpath/field/kernels")}


def test_every_layer_stands_in_the_guide() -> None:
    guide = (ROOT / "DEVELOPERS.md").read_text()
    for layer in (ROOT / "toolpath").iterdir():
        if layer.is_dir() and layer.name != "__pycache__":
            assert f"{layer.name}/" in guide


def test_readme_starts_with_two_commands() -> None:
    blocks = re.findall(r"^```sh\n(.*?)^```", (ROOT / "README.md").read_text(), re.M | re.S)
    assert len(blocks) >= 2
    for block in blocks[:2]:
        assert len(block.strip().splitlines()) == 1
    assert "keepclear plan samples/" in blocks[0]
    assert "pytest" in blocks[1]


def test_what_is_imported_is_declared() -> None:
    declared = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["dependencies"]
    names = {re.split(r"[<>=]", row)[0].strip() for row in declared}
    found = set()
    for path in MODULES:
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Import):
                found |= {alias.name.split(".")[0] for alias in node.names}
            if isinstance(node, ast.ImportFrom) and node.module and not node.level:
                found.add(node.module.split(".")[0])
    import sys

    called = {"PIL": "pillow", "fontTools": "fonttools"}  # what is installed under another name
    found = {called.get(name, name) for name in found}
    assert found - set(sys.stdlib_module_names) - {"toolpath"} <= names


def test_every_file_has_its_test_file() -> None:
    missing = {
        str(path.relative_to(ROOT / "toolpath"))
        for path in MODULES
        if not path.name.startswith("__")
        and not (
            ROOT / "tests" / path.relative_to(ROOT / "toolpath").parent / f"test_{path.name}"
        ).exists()
    }
    assert missing == WITHOUT_TESTS_OF_THEIR_OWN
