"""The house rules that a parser can check: who imports whom, how long a file is, what the core never does."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[1] / "addon" / "padwright"
FILES = sorted(PACKAGE.rglob("*.py"))
CORE = [path for path in FILES if path.is_relative_to(PACKAGE / "core")]
MODELLER = {"bpy", "bmesh", "mathutils", "bpy_extras", "gpu", "blf", "addon_utils"}
LONGEST = 400  # lines: beyond that a file has more than one subject

# A file may import from its own layer and from those before it.
LAYERS = ["foundation", "geometry", "capture", "shape", "firmness", "output", "pipeline", "outermost"]
FOLDER_LAYER = {name: LAYERS.index(name) for name in LAYERS[1:6]}
# Modules of core itself that stand above every stage: job_read, run_inputs, ...
PIPELINE_MODULES = {"families", "job", "packing", "pipeline", "run", "toml", "trials"}
DOORS = {"igl": "core/geometry/query.py", "manifold3d": "core/geometry/solids.py"}


def name_of(path: Path) -> str:
    return path.relative_to(PACKAGE).as_posix()


@cache
def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text("utf-8"), str(path))


def layer_of(parts: tuple[str, ...]) -> int:
    """Return the layer of a module given by its names below the package, e.g. ("core", "shape", "pad")."""
    if not parts or parts[0] != "core":
        return LAYERS.index("outermost")
    if len(parts) == 1:
        return 0
    if parts[1] in FOLDER_LAYER:
        return FOLDER_LAYER[parts[1]]
    return LAYERS.index("pipeline") if parts[1].split("_")[0] in PIPELINE_MODULES else 0


def parts_of(path: Path) -> tuple[str, ...]:
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    return parts[:-1] if parts[-1] == "__init__" else parts


def imports(path: Path) -> list[tuple[int, str, tuple[str, ...] | None]]:
    """Return (line, top name, names below the package or None for another package) of every import in a file."""
    folder = path.relative_to(PACKAGE).parent.parts
    found: list[tuple[int, str, tuple[str, ...] | None]] = []
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            found += [(node.lineno, alias.name.split(".")[0], None) for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.level == 0:
            found.append((node.lineno, (node.module or "").split(".")[0], None))
        elif isinstance(node, ast.ImportFrom):
            base = folder[: len(folder) - (node.level - 1)]
            if node.module:
                found.append((node.lineno, "", (*base, *node.module.split("."))))
            else:  # from . import a, b
                found += [(node.lineno, "", (*base, alias.name)) for alias in node.names]
    return found


@pytest.fixture(params=FILES, ids=name_of)
def path(request: pytest.FixtureRequest) -> Path:
    assert isinstance(request.param, Path)
    return request.param


def test_there_is_something_to_check() -> None:
    assert len(CORE) > 10


def test_imports_inside_the_package_are_relative(path: Path) -> None:
    # Installed, the package is called bl_ext.<repository>.padwright: its own name does not find it.
    assert [line for line, top, _ in imports(path) if top == "padwright"] == []


def test_a_file_imports_only_its_own_layer_and_those_before(path: Path) -> None:
    own = layer_of(parts_of(path))
    upward = [
        f"line {line}: {LAYERS[own]} imports {'.'.join(target)} ({LAYERS[layer_of(target)]})"
        for line, _, target in imports(path)
        if target is not None and layer_of(target) > own
    ]
    assert upward == []


def test_the_core_knows_no_modeller(path: Path) -> None:
    if path in CORE:
        assert [f"line {line}: {top}" for line, top, _ in imports(path) if top in MODELLER] == []


def test_only_the_folder_for_the_modeller_knows_it(path: Path) -> None:
    if not name_of(path).startswith("blender/"):
        assert [f"line {line}: {top}" for line, top, _ in imports(path) if top in MODELLER] == []


def test_operators_are_known_to_the_registration_alone(path: Path) -> None:
    if name_of(path) != "blender/registration.py":
        taken = [target for _, _, target in imports(path) if target is not None and target[0] == "blender"]
        assert [target for target in taken if any(each.startswith("operators_") for each in target)] == []


def test_panels_only_read(path: Path) -> None:
    if name_of(path).startswith("blender/panels"):
        targets = {".".join(target) for _, _, target in imports(path) if target is not None}
        assert targets <= {"blender.state", "blender.shape.drawn", "blender.panels", "core.families"}


def test_each_solid_library_has_one_door(path: Path) -> None:
    strays = [f"line {line}: {top}" for line, top, _ in imports(path) if top in DOORS and name_of(path) != DOORS[top]]
    assert strays == []


def test_a_file_is_no_longer_than_one_subject(path: Path) -> None:
    assert len(path.read_text("utf-8").splitlines()) <= LONGEST


def test_no_except_swallows_bugs(path: Path) -> None:
    broad = {"Exception", "BaseException"}
    caught = []
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.ExceptHandler):
            kinds = node.type.elts if isinstance(node.type, ast.Tuple) else [node.type]
            names = {kind.id if isinstance(kind, ast.Name) else "" for kind in kinds if kind is not None}
            if node.type is None or names & broad:
                caught.append(f"line {node.lineno}")
    assert caught == []


def test_the_core_says_nothing_itself(path: Path) -> None:
    if path in CORE:
        calls = [node for node in ast.walk(tree_of(path)) if isinstance(node, ast.Call)]
        printed = [node.lineno for node in calls if isinstance(node.func, ast.Name) and node.func.id == "print"]
        assert printed == []


RULES_BROKEN = {
    "from padwright.core import mesh\n": test_imports_inside_the_package_are_relative,
    "from ..output import regions\n": test_a_file_imports_only_its_own_layer_and_those_before,
    "from ... import cli\n": test_a_file_imports_only_its_own_layer_and_those_before,
    "def f():\n    import bpy\n": test_the_core_knows_no_modeller,
    "from ...blender.shape.operators_pad import CLASSES\n": test_operators_are_known_to_the_registration_alone,
    "import bpy.types\n": test_only_the_folder_for_the_modeller_knows_it,
    "import igl.copyleft\n": test_each_solid_library_has_one_door,
    "a = 1\n" * (LONGEST + 1): test_a_file_is_no_longer_than_one_subject,
    "try:\n    a = 1\nexcept:\n    pass\n": test_no_except_swallows_bugs,
    "try:\n    a = 1\nexcept (ValueError, Exception):\n    pass\n": test_no_except_swallows_bugs,
    "print(1)\n": test_the_core_says_nothing_itself,
}


@pytest.mark.parametrize("text", RULES_BROKEN)
def test_each_rule_catches_its_breach(text: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    package = tmp_path / "padwright"
    breach = package / "core" / "shape" / "breach.py"
    breach.parent.mkdir(parents=True)
    breach.write_text(text, "utf-8")
    monkeypatch.setitem(globals(), "PACKAGE", package)
    monkeypatch.setitem(globals(), "CORE", [breach])
    with pytest.raises(AssertionError):
        RULES_BROKEN[text](breach)
