"""What a person reads on screen, in notes and on cards is in US English."""

from __future__ import annotations

import ast
import re
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
# Stems that British and US English spell differently; keys of the job file keep the names they have.
BRITISH = re.compile(
    r"(?<![\w./`\"'])\w*(centre|colour|neighbour|metre|favour|mould|grey|labelled|fibre)\w*(?![\w\"'`(=])"
)


def prose(path: Path) -> list[str]:
    """Return the texts of a module that have a space in them and are no docstring."""
    tree = ast.parse(path.read_text("utf-8"))
    silent = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    return [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant)
        and isinstance(node.value, str)
        and " " in node.value
        and id(node) not in silent
    ]


def test_texts_in_code() -> None:
    found = [
        (path.name, text)
        for path in sorted((ROOT / "addon").rglob("*.py"))
        for text in prose(path)
        if any("_" not in each.group(0) for each in BRITISH.finditer(text))  # a name with an underscore is a key
    ]
    assert found == []


def test_texts_on_cards() -> None:
    said = [
        (path.name, each["text"])
        for path in sorted([*(ROOT / "shared").rglob("*.toml"), *(ROOT / "addon").rglob("*.toml")])
        for each in tomllib.loads(path.read_text("utf-8")).get("cautions", [])
    ]
    assert len(said) > 5
    assert [(name, text) for name, text in said if BRITISH.search(text)] == []


def test_a_british_word_is_found() -> None:
    assert BRITISH.search("the load centres lie")
    assert BRITISH.search("a colour.") and not BRITISH.search('the key "colour" is')
