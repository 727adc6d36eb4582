"""What holds for the tests themselves."""

from __future__ import annotations

import ast
import re
import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


def parametrized_over_files(path: Path) -> list[str]:
    """Name tests that are counted once a file: the suite then grows with the files, and its number says nothing."""
    tree = ast.parse(path.read_text("utf-8"), str(path))
    file_lists = {
        target.id
        for node in tree.body
        if isinstance(node, ast.Assign) and lists_files(node.value)
        for target in node.targets
        if isinstance(target, ast.Name)
    }
    calls = [node for node in ast.walk(tree) if isinstance(node, ast.Call)]
    return [
        f"{path.name}, line {call.lineno}"
        for call in calls
        if ast.unparse(call.func).endswith(("parametrize", "fixture"))
        for given in (*call.args, *(each.value for each in call.keywords))
        if lists_files(given) or any(isinstance(n, ast.Name) and n.id in file_lists for n in ast.walk(given))
    ]


def lists_files(node: ast.expr) -> bool:
    return any(isinstance(each, ast.Attribute) and each.attr in {"glob", "rglob"} for each in ast.walk(node))


def test_a_rule_over_all_files_is_one_test(tmp_path: Path) -> None:
    tests = Path(__file__).resolve().parent
    assert [found for path in sorted(tests.rglob("*.py")) for found in parametrized_over_files(path)] == []
    for text in (
        "PAGES = sorted(ROOT.rglob('*.md'))\n@pytest.mark.parametrize('page', PAGES, ids=str)\ndef test(page): ...\n",
        "@pytest.mark.parametrize('page', sorted(ROOT.glob('*.md')))\ndef test(page): ...\n",
        "PAGES = list(ROOT.glob('*.md'))\n@pytest.fixture(params=PAGES)\ndef page(request): ...\n",
    ):
        (tmp_path / "test_breach.py").write_text(text, "utf-8")
        assert len(parametrized_over_files(tmp_path / "test_breach.py")) == 1


@pytest.mark.skipif(shutil.which("bash") is None, reason="the shell that .ci/run is written for expands its names")
def test_every_file_that_the_whole_check_names_is_there() -> None:
    text = (ROOT / ".ci" / "run").read_text("utf-8")
    names = re.findall(r"(?<![\w/])tests/[^\s()]+\.py", re.sub(r"(?m)#.*$", "", text))
    listed = subprocess.run(
        ["bash", "-c", f"printf '%s\\n' {' '.join(names)}"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split()
    assert len(listed) > len(names) > 10
    assert [name for name in listed if not (ROOT / name).is_file()] == []  # what matches nothing keeps its asterisk
