"""A name in the package stands for one thing."""

from __future__ import annotations

import ast
from collections.abc import Iterable
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[1] / "addon" / "padwright"


def names_of_two_classes(files: Iterable[Path]) -> list[str]:
    """Tell each name that two classes have; an underscore before it makes no other name."""
    places: dict[str, list[str]] = {}
    for path in files:
        for node in ast.walk(ast.parse(path.read_text("utf-8"), str(path))):
            if isinstance(node, ast.ClassDef):
                places.setdefault(node.name.lstrip("_"), []).append(f"{path}, line {node.lineno}")
    return [f"{name}: {'; '.join(each)}" for name, each in sorted(places.items()) if len(each) > 1]


def test_no_two_classes_have_one_name() -> None:
    assert names_of_two_classes(sorted(PACKAGE.rglob("*.py"))) == []


@pytest.mark.parametrize("second", ["class Pad(A):\n    pass\n", "def f():\n    class _Pad:\n        pass\n"])
def test_a_name_of_two_classes_is_found(second: str, tmp_path: Path) -> None:
    (tmp_path / "a.py").write_text("class Pad:\n    pass\n", "utf-8")
    (tmp_path / "b.py").write_text(second, "utf-8")
    assert names_of_two_classes([tmp_path / "a.py"]) == []
    assert len(names_of_two_classes([tmp_path / "a.py", tmp_path / "b.py"])) == 1
