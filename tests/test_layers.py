"""The house rules that a parser can check: who imports whom, how long a file is, what the core never does."""

from __future__ import annotations

import ast
import inspect
from collections.abc import Callable, Container, Iterable
from functools import cache
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[1] / "addon" / "padwright"
FILES = sorted(PACKAGE.rglob("*.py"))
MODELLER = {"bpy", "bmesh", "mathutils", "bpy_extras", "gpu", "blf", "addon_utils"}
LONGEST = 400  # lines: beyond that a file has more than one subject

# The rooms, lowest first: a file may import from its own room and from those before it. A room inside another is named
# beside it, and the longest name counts.
ROOMS = [
    "core.base",
    "core.geometry",
    "core.job",
    "core.stages",
    "core.stages.scans.formats",
    "core.stages.scans",
    "core.stages.alignment",
    "core.stages.material",
    "core.stages.material.folds",
    "core.stages.material.coupons",
    "core.stages.body",
    "core.stages.reading",
    "core.stages.mats",
    "core.stages.pad",
    "core.stages.zones",
    "core.stages.regions",
    "core.stages.printing",
    "core.stages.folds",
    "core.stages.load",
    "core.stages.shape",
    "core.stages.packing",
    "core.stages.trials",
    "core.stages.compare",
    "core.stages.report",
    "core.run",
]
OUTERMOST = len(ROOMS)
# What a panel may know: what stands in the scene, what panels share, and the families' own words. All of it only reads.
PANELS_KNOW = {
    "blender.state",
    "blender.refusals",
    "blender.alignment.poses",
    "blender.scans.datum",
    "blender.scans.sizes",
    "blender.scans.scan_colors",
    "blender.pad.drawn",
    "blender.mats.foil_file",
    "blender.packing.takes",
    "blender.panels",
    "core.job.cards",
    "core.base.text",
}
MAKES_LAYOUT = {"row", "column", "box", "split", "column_flow", "grid_flow", "operator", "operator_menu_enum"}
DOORS = {
    "igl": "core/geometry/query.py",
    "manifold3d": "core/geometry/solids.py",
    "PIL": "core/stages/scans/pictures.py",
}


def name_of(path: Path) -> str:
    return path.relative_to(PACKAGE).as_posix()


@cache
def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text("utf-8"), str(path))


def layer_of(parts: tuple[str, ...]) -> int:
    """Return the layer of a module given by its names below the package, e.g. ("core", "stages", "pad", "relief")."""
    name = ".".join(parts) + "."
    inside = [room for room in ROOMS if name.startswith(room + ".")]
    return ROOMS.index(max(inside, key=len)) if inside else OUTERMOST


def room_name(parts: tuple[str, ...]) -> str:
    return (*ROOMS, "outermost")[layer_of(parts)]


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
            target = (*base, *(node.module.split(".") if node.module else ()))
            if not node.module or PACKAGE.joinpath(*target).is_dir():  # from . import a, b; from ..pad import a
                found += [(node.lineno, "", (*target, alias.name)) for alias in node.names]
            else:
                found.append((node.lineno, "", target))
    return found


def in_core(path: Path) -> bool:
    return parts_of(path)[:1] == ("core",)


def is_panel(path: Path) -> bool:
    """Say if a file draws panels: `panels.py`, `panels_*.py`, anywhere in the modeller's folder."""
    return parts_of(path)[:1] == ("blender",) and path.stem.split("_")[0] == "panels"


# Each rule takes a file and names its breaches; a test asks all files at once, so that it counts once.


def own_name(path: Path) -> list[str]:
    """Installed, the package is called bl_ext.<repository>.padwright: its own name does not find it."""
    return [f"line {line}: by the package's own name" for line, top, _ in imports(path) if top == "padwright"]


def upward(path: Path) -> list[str]:
    own = layer_of(parts_of(path))
    return [
        f"line {line}: {room_name(parts_of(path))} imports {'.'.join(target)} ({room_name(target)})"
        for line, _, target in imports(path)
        if target is not None and layer_of(target) > own
    ]


def circles(files: Iterable[Path]) -> list[str]:
    """Name each circle of imports once; imports inside functions and for types alone count as well."""
    by_name = {parts_of(path): path for path in files}
    graph = {
        own: sorted({named for _, _, target in imports(path) if (named := module_of(target, by_name)) is not None})
        for own, path in by_name.items()
    }
    found: list[str] = []
    finished: set[tuple[str, ...]] = set()

    def visit(own: tuple[str, ...], way: list[tuple[str, ...]]) -> None:
        if own in way:
            found.append(" -> ".join(".".join(each) for each in [*way[way.index(own) :], own]))
        elif own not in finished:
            for each in graph[own]:
                visit(each, [*way, own])
            finished.add(own)

    for own in sorted(graph):
        visit(own, [])
    return found


def module_of(target: tuple[str, ...] | None, known: Container[tuple[str, ...]]) -> tuple[str, ...] | None:
    """Return the module that an import reaches: one that is named, or the package in which a name of its own stands."""
    if target is None:
        return None
    return next((each for each in (target, target[:-1]) if each in known), None)


def modeller_outside_its_folder(path: Path) -> list[str]:
    if parts_of(path)[:1] == ("blender",):
        return []
    return [f"line {line}: {top}" for line, top, _ in imports(path) if top in MODELLER]


def operators_elsewhere(path: Path) -> list[str]:
    """The registration finds operators by their files' names; nothing imports them."""
    return [
        f"line {line}: {'.'.join(target)}"
        for line, _, target in imports(path)
        if target is not None and target[0] == "blender" and any(each.startswith("operators_") for each in target)
    ]


def panel_knows_more(path: Path) -> list[str]:
    if not is_panel(path):
        return []
    targets = [(line, ".".join(target)) for line, _, target in imports(path) if target is not None]
    return [f"line {line}: {target}" for line, target in targets if target not in PANELS_KNOW]


def panel_writes(path: Path) -> list[str]:
    """Name what a panel sets besides the layout it draws on and the options of its buttons."""
    if not is_panel(path):
        return []
    nodes = list(ast.walk(tree_of(path)))
    layouts = {"layout"} | {
        target.id
        for node in nodes
        if isinstance(node, ast.Assign) and made_by_layout(node.value)
        for target in node.targets
        if isinstance(target, ast.Name)
    }
    found = []
    for node in nodes:
        if isinstance(node, ast.Attribute | ast.Subscript) and isinstance(node.ctx, ast.Store | ast.Del):
            owner = node.value
            if not (made_by_layout(owner) or (isinstance(owner, ast.Name) and owner.id in layouts)):
                found.append(f"line {node.lineno}: sets {ast.unparse(node)}")
        elif isinstance(node, ast.Call) and ast.unparse(node.func).startswith(("setattr", "bpy.ops.")):
            found.append(f"line {node.lineno}: calls {ast.unparse(node.func)}")
    return found


def made_by_layout(node: ast.expr) -> bool:
    return isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in MAKES_LAYOUT


def without_room(path: Path) -> list[str]:
    is_lost = in_core(path) and path.stem != "__init__" and layer_of(parts_of(path)) == OUTERMOST
    return ["stands in no room"] if is_lost else []


def second_door(path: Path) -> list[str]:
    return [f"line {line}: {top}" for line, top, _ in imports(path) if top in DOORS and name_of(path) != DOORS[top]]


def too_long(path: Path) -> list[str]:
    lines = len(path.read_text("utf-8").splitlines())
    return [f"{lines} lines"] if lines > LONGEST else []


def broad_except(path: Path) -> list[str]:
    broad = {"Exception", "BaseException"}
    caught = []
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.ExceptHandler):
            kinds = node.type.elts if isinstance(node.type, ast.Tuple) else [node.type]
            names = {kind.id if isinstance(kind, ast.Name) else "" for kind in kinds if kind is not None}
            if node.type is None or names & broad:
                caught.append(f"line {node.lineno}")
    return caught


def prints_in_core(path: Path) -> list[str]:
    calls = [node for node in ast.walk(tree_of(path)) if isinstance(node, ast.Call)] if in_core(path) else []
    return [f"line {node.lineno}" for node in calls if isinstance(node.func, ast.Name) and node.func.id == "print"]


def breaches(rule: Callable[[Path], list[str]], files: Iterable[Path] = FILES) -> list[str]:
    return [f"{name_of(path)}, {breach}" for path in files for breach in rule(path)]


def test_there_is_something_to_check() -> None:
    assert sum(map(in_core, FILES)) > 100
    assert sum(map(is_panel, FILES)) >= 7  # in the folder itself and below it


def test_imports_inside_the_package_are_relative() -> None:
    assert breaches(own_name) == []


def test_a_file_imports_only_its_own_room_and_those_before() -> None:
    assert breaches(upward) == []


def test_imports_go_in_no_circle() -> None:
    assert circles(FILES) == []


@pytest.mark.parametrize(
    "texts",
    [
        {"cli/a.py": "from .b import x\n", "cli/b.py": "from .a import x\n"},
        {"cli/a.py": "from . import b\n", "cli/b.py": "def f():\n    from . import a\n"},
        {"cli/a.py": "from .b import x\n", "cli/b.py": "if TYPE_CHECKING:\n    from .a import X\n"},
        {"cli/a.py": "from ..core import b\n", "core/b.py": "from ..cli.c import x\n", "cli/c.py": "from . import a\n"},
        {"cli/__init__.py": "from .a import x\n", "cli/a.py": "from . import x\n"},
    ],
)
def test_a_circle_is_found(texts: dict[str, str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(globals(), "PACKAGE", tmp_path)
    for name, text in texts.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text, "utf-8")
    planted = sorted(tmp_path.rglob("*.py"))
    assert len(circles(planted)) == 1
    planted[0].write_text("", "utf-8")
    tree_of.cache_clear()
    assert circles(planted) == []


def test_every_file_of_the_core_stands_in_a_room() -> None:
    assert breaches(without_room) == []


def test_only_the_folder_for_the_modeller_knows_it() -> None:
    assert breaches(modeller_outside_its_folder) == []


def test_nothing_imports_operators() -> None:
    assert breaches(operators_elsewhere) == []


def test_panels_know_only_what_reads() -> None:
    assert breaches(panel_knows_more) == []


def test_panels_set_nothing_but_their_layout() -> None:
    assert breaches(panel_writes) == []


def test_each_solid_library_has_one_door() -> None:
    assert breaches(second_door) == []


def test_a_file_is_no_longer_than_one_subject() -> None:
    assert breaches(too_long) == []


def test_no_except_swallows_bugs() -> None:
    assert breaches(broad_except) == []


def test_the_core_says_nothing_itself() -> None:
    assert breaches(prints_in_core) == []


CORE_FILE, PANEL_FILE = "core/stages/pad/breach.py", "blender/pad/panels_breach.py"
RULES_BROKEN = [
    (own_name, CORE_FILE, "from padwright.core import mesh\n"),
    (upward, CORE_FILE, "from ..regions import regions\n"),
    (upward, CORE_FILE, "from .... import cli\n"),
    (without_room, "core/breach.py", "a = 1\n"),
    (modeller_outside_its_folder, CORE_FILE, "def f():\n    import bpy\n"),
    (modeller_outside_its_folder, "cli_breach.py", "import bpy.types\n"),
    (operators_elsewhere, "blender/registration.py", "from .pad.operators_pad import CLASSES\n"),
    (operators_elsewhere, CORE_FILE, "from ....blender.pad.operators_pad import CLASSES\n"),
    (panel_knows_more, PANEL_FILE, "from ..scene import kept\n"),
    (panel_knows_more, "blender/panels_breach.py", "from . import bridge\n"),
    (panel_writes, PANEL_FILE, "def draw(layout, part):\n    part.goal = 'even'\n"),
    (panel_writes, PANEL_FILE, "def draw(layout, context):\n    context.scene['a'] = 1\n"),
    (panel_writes, PANEL_FILE, "def draw(layout, part):\n    part.count += 1\n"),
    (panel_writes, PANEL_FILE, "def draw(layout, part):\n    del part['a']\n"),
    (panel_writes, PANEL_FILE, "def draw(layout, part):\n    for part.index in range(3):\n        pass\n"),
    (panel_writes, "blender/panels.py", "import bpy\nbpy.ops.padwright.build_pad()\n"),
    (second_door, CORE_FILE, "import igl.copyleft\n"),
    (too_long, CORE_FILE, "a = 1\n" * (LONGEST + 1)),
    (broad_except, CORE_FILE, "try:\n    a = 1\nexcept:\n    pass\n"),
    (broad_except, CORE_FILE, "try:\n    a = 1\nexcept (ValueError, Exception):\n    pass\n"),
    (prints_in_core, CORE_FILE, "print(1)\n"),
]


@pytest.mark.parametrize(("rule", "place", "text"), RULES_BROKEN)
def test_each_rule_catches_its_breach(
    rule: Callable[[Path], list[str]], place: str, text: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    breach = tmp_path / "padwright" / place
    breach.parent.mkdir(parents=True)
    breach.write_text(text, "utf-8")
    monkeypatch.setitem(globals(), "PACKAGE", tmp_path / "padwright")
    assert len(breaches(rule, [breach])) == 1


def test_a_panel_may_set_its_layout_and_its_buttons(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    panel = tmp_path / "padwright" / PANEL_FILE
    panel.parent.mkdir(parents=True)
    panel.write_text("def draw(layout):\n    a = layout.row()\n    a.alert = layout.operator('a').b = True\n", "utf-8")
    monkeypatch.setitem(globals(), "PACKAGE", tmp_path / "padwright")
    assert breaches(panel_writes, [panel]) == []


def test_every_rule_has_its_breach_and_its_line_in_the_docs() -> None:
    tests = [each for name, each in globals().items() if name.startswith("test_") and inspect.isfunction(each)]
    asked = [
        call.args[0].id
        for call in ast.walk(ast.parse(Path(__file__).read_text("utf-8")))
        if isinstance(call, ast.Call) and ast.unparse(call.func) == "breaches" and len(call.args) == 1
        if isinstance(call.args[0], ast.Name)
    ]
    assert len(asked) >= 10
    assert set(asked) == {rule.__name__ for rule, _, _ in RULES_BROKEN}
    page = (PACKAGE.parents[1] / "docs" / "architecture.md").read_text("utf-8")
    rules = {each.__name__ for each in tests if not inspect.signature(each).parameters}
    rules -= {"test_there_is_something_to_check", "test_every_rule_has_its_breach_and_its_line_in_the_docs"}
    assert [name for name in sorted(rules) if f"`{name}`" not in page] == []
