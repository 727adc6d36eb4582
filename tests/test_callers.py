"""What the core offers, somebody takes: no public function, class or method of it that only tests know, or nobody."""

from __future__ import annotations

import ast
import re
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PRODUCT, SCRIPTS = ROOT / "addon" / "padwright", ROOT / "scripts"
Named = ast.FunctionDef | ast.ClassDef


def used(tree: ast.AST) -> Counter[str]:
    """Count the names that code reads, also as "file.function" in a string, as stages do; an import uses nothing."""
    found: Counter[str] = Counter()
    for node in ast.walk(tree):
        if isinstance(node, ast.Name | ast.Attribute) and isinstance(node.ctx, ast.Load):
            found[node.id if isinstance(node, ast.Name) else node.attr] += 1
        elif (
            isinstance(node, ast.Constant) and isinstance(node.value, str) and re.fullmatch(r"\w+(\.\w+)*", node.value)
        ):
            found[node.value.rsplit(".", maxsplit=1)[-1]] += 1
    return found


def offered(tree: ast.Module) -> list[Named]:
    """Return the public functions and classes of a file and the public methods of its classes."""
    top = [node for node in tree.body if isinstance(node, Named)]
    inside = [node for each in top if isinstance(each, ast.ClassDef) for node in each.body if isinstance(node, Named)]
    return [node for node in [*top, *inside] if not node.name.startswith("_")]


def without_caller(core: Iterable[Path], callers: Iterable[Path]) -> list[str]:
    """Name what is offered and read nowhere but in its own body."""
    read = sum((used(ast.parse(path.read_text("utf-8"))) for path in callers), Counter[str]())
    return [
        f"{path.name}, line {node.lineno}: {node.name}"
        for path in core
        for node in offered(ast.parse(path.read_text("utf-8")))
        if read[node.name] <= used(node)[node.name]
    ]


def test_what_the_core_offers_has_a_caller() -> None:
    callers = [*PRODUCT.rglob("*.py"), *SCRIPTS.rglob("*.py")]
    assert without_caller(sorted((PRODUCT / "core").rglob("*.py")), callers) == []


@pytest.mark.parametrize(
    ("text", "lost"),
    [
        ("def lost(): pass", ["lost"]),
        ("def lost(deep): return lost(deep - 1) if deep else 0", ["lost"]),
        ("class Lost: pass", ["Lost"]),
        ("class Kept:\n    def lost(self): pass\nKept()", ["lost"]),
        ("class Kept:\n    @property\n    def kept(self): return 1\nprint(Kept().kept)", []),
        ("def kept(): pass\nrun = 'work.kept'", []),
        ("def _own(): pass", []),
    ],
)
def test_what_nobody_calls_is_found(text: str, lost: list[str], tmp_path: Path) -> None:
    planted, other = tmp_path / "planted.py", tmp_path / "other.py"
    planted.write_text(text + "\n", "utf-8")
    other.write_text("from planted import lost\n", "utf-8")  # to import is not to use
    assert [each.rsplit(maxsplit=1)[-1] for each in without_caller([planted], [planted, other])] == lost
