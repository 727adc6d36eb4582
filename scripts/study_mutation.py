"""Plant errors of 10 % in laws and cards, one at a time, and count those that no test of theirs sees.

A draw is one number (a float in the code of a law, a number in a card) and one way, up or down. The numbers come in an
order that is shuffled once, so that a sample is a mixture. Each is planted in a copy of the project, and the tests of
its subject run there in a process forked off one that has the libraries already; it needs a system that can fork.

A number that no test holds must be in `WIDER`, with the reason why it may be wider than 10 %. Numbers that a card calls
common practice or our own choice are not planted: there is no truth to hold them against.
"""

from __future__ import annotations

import ast
import importlib
import io
import os
import random
import re
import shutil
import sys
import tempfile
from collections.abc import Iterator
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

import studying

CORE = "addon/padwright/core/"
MATERIAL = CORE + "stages/material/"
BODY = CORE + "stages/body/"
LOAD = CORE + "stages/load/"
BY_HAND = "tests/core/test_laws.py"
FILL = (BY_HAND, "tests/core/test_fill.py", "tests/outside/test_fill_outside.py")
OUTSIDE = "tests/outside/test_contact_outside.py"
PLATES = tuple(f"{OUTSIDE}::test_{name}" for name in (
    "constrained_ratio_of_the_theory_of_elasticity", "block_rules", "incompressible_layers", "plane_modulus",
    "half_space_formulas_against_a_general_contact_code", "layers_in_series",
))  # fmt: skip
PRINT = ("tests/core/test_printplan.py", "tests/outside/test_printplan_outside.py")
CARDS = (
    "tests/outside/test_cards_outside.py",
    "tests/outside/test_pressures_outside.py",
    "tests/core/test_families.py",
)
FOLDS = tuple(f"tests/core/test_fold_{name}.py" for name in ("page", "law", "tables", "sway", "endurance"))
LAWS: dict[str, tuple[tuple[str, ...], str]] = {
    MATERIAL + "fill.py": (
        FILL,
        r"_DENSIFYING|stiffness_ratio|fill_curve|wrinkle_strain|_cells|_shut|_solid_stress",
    ),
    MATERIAL + "lattices.py": (FILL, r"_KNEE|GYROID_AREA|upper_bound|gyroid|buckling|_upright|LATTICES"),
    MATERIAL + "giving_way.py": ((*FILL, "tests/core/test_giving_way.py"), r".*"),
    MATERIAL + "fill_geometry.py": (FILL, r"bead_area_mm2|cell_mm|density_from_cell"),
    MATERIAL + "hardness.py": (
        (BY_HAND, "tests/core/test_hardness.py", FILL[2]),
        r".*_kpa|over_gent|MEASURED.*|spread_factors",
    ),
    MATERIAL + "coupons/held.py": (FILL, r".*"),
    MATERIAL + "curves.py": (
        (BY_HAND, "tests/core/test_curves.py", *PLATES),
        r"WALL_POISSON|constrained_ratio|layered_ratio",
    ),
    MATERIAL + "folds/law.py": (FOLDS, r".*"),
    MATERIAL + "folds/walls.py": (FOLDS, r"FEET_GIVE|LEAST_FREE|SKIN_TO_WALL|Walls"),
    MATERIAL + "folds/elastica.py": (FOLDS, r"solve_segment|elastica_strain"),
    MATERIAL + "folds/softening.py": (FOLDS, r"HALVED_AT|Softening|_curvatures"),
    LOAD + "bulging_layers.py": ((BY_HAND, *PLATES), r".*"),
    LOAD + "zone_sides.py": (("tests/core/test_zone_sides.py",), r"_moduli|sided_ratio|_ratio"),
    LOAD + "narrow_contacts.py": (
        ("tests/core/test_narrow_contacts.py", "tests/outside/test_narrow_outside.py"),
        r"[A-Z_]+|narrow_ratio|_half_space|_closes",
    ),
    BODY + "weight.py": ((BY_HAND, *PLATES), r"GRAVITY"),
    BODY + "flesh.py": ((BY_HAND, *PLATES), r"flesh_layer"),
    MATERIAL + "material_model.py": ((BY_HAND, "tests/core/test_hardness.py"), r"NINETY|_.*_FACTOR|OWN_.*"),
    LOAD + "felt.py": ((BY_HAND, "tests/core/test_felt.py", *PLATES), r"[A-Z_]+|thumb_mm"),
    LOAD + "pressure_lines.py": (("tests/outside/test_pressures_outside.py",), r".*"),
    CORE + "stages/printing/shell.py": (PRINT, r".*"),
    CORE + "base/units.py": ((BY_HAND,), r".*"),
}
"""File of laws -> its tests, and the names in it that are laws: functions and constants."""

SAMPLE = 6
LOADED = (
    "hypothesis.strategies", "numpy.testing", "pytest", "scipy.integrate", "scipy.linalg", "scipy.optimize",
    "scipy.spatial", "scipy.special", "scipy.stats", "scipy.sparse.linalg", "scipy.ndimage", "trimesh",
)  # fmt: skip
"""Before the first fork, so that each need not."""

MATERIALS = "shared/materials"
FAMILIES = "shared/families"

WIDER: dict[tuple[str, str], str] = {
    (
        LOAD + "bulging_layers.py",
        "^COLUMN_LIMIT",
    ): "the column rule ends somewhere between two computed ratios, 0.37 and 0.45",
    (MATERIAL + "hardness.py", "low, high = "): "where relations are said to hold is practice, and refuses only",
    (MATERIAL + "hardness.py", "brentq"): "a bracket of the search: the root is the same",
    (MATERIAL + "fill.py", "np.clip|_STRAIN|min\\(.*0\\.9"): "a guard far from any use",
    (MATERIAL + "fill.py", "linspace"): "where points of a curve lie, not what it says",
    (MATERIAL + "lattices.py", "checked="): "where a note is told, not a law",
    (MATERIAL + "giving_way.py", "past = "): "a guard where the line is taken in any case",
    (MATERIAL + "fill_geometry.py", "0.7"): "where walls touch is refused",
    (
        MATERIAL + "folds/law.py",
        "np.clip|_LEAST_SLOPE|within = |1e-3|end = |room = |np.array|_SHUT_TO|grown = |0\\.02|fourth < |> 1.5",
    ): "a guard far from any use, or where a series takes over",
    (MATERIAL + "folds/law.py", "0.6 \\* np.asarray|tan.* \\*\\* 4"): (
        "fitted on rods within 3 %, of which it is a small part"
    ),
    (MATERIAL + "folds/walls.py", "^LEAST_FREE|^SKIN_TO_WALL"): "a guard; our own choice",
    (MATERIAL + "folds/elastica.py", "step = |slant = |last = |log_force = |np.clip"): (
        "how fast a search goes: the root is the same"
    ),
    (MATERIAL + "folds/softening.py", "geomspace|1e-2"): "where points of a curve lie; where a series takes over",
    (BODY + "flesh.py", "linspace|50.0|0.9"): "where points of a curve end; what is refused",
    (LOAD + "bulging_layers.py", "1e-3"): "where a series takes over: both agree there to 1e-7",
    (LOAD + "felt.py", "_TIPS_PCT|STEPS_MM|CUSHION_MM|THUMB"): "our own choice of words",
    (MATERIAL + "fill_geometry.py", "return min"): "no more than all can be solid: a guard",
    (
        CORE + "stages/printing/shell.py",
        "is_wall = ",
    ): "which faces count as wall: it moves those that lean by 45 degrees",
    (CORE + "stages/printing/shell.py", "np.clip"): "a guard at corners that turn by more than 170 degrees",
    (FAMILIES, "^target_modulus_kpa"): "our own choice, held through the fill, in whole percents: 5 % of 9 %",
    (
        FAMILIES,
        "_mm = |_share = ",
    ): "limits of what is likely, with room beyond what was measured: a question, never a result",
    (FAMILIES, "^modulus_kpa|^stiffening"): "flesh of a few published groups of people: its bounds are wider than that",
    (FAMILIES, "^share = |^grip_pressure_kpa"): "a default in a published range that is wider",
}
"""(file or folder, pattern of the line) -> why no test holds it to 10 %."""


@dataclass(frozen=True)
class Plant:
    """One number to change, and by what."""

    file: str
    start: int
    end: int
    text: str
    line: str
    factor: float
    tests: tuple[str, ...]

    @property
    def subject(self) -> str:
        """Return what the table counts it under."""
        return (
            self.file.rsplit("/", 1)[0]
            if self.file.endswith(".toml")
            else self.file.removeprefix(CORE).removeprefix("stages/")
        )

    def planted(self, source: str) -> str:
        """Return the file with the number changed."""
        return f"{source[: self.start]}{float(self.text) * self.factor:.9g}{source[self.end :]}"

    @property
    def reason(self) -> str:
        """Return why it may be wider, or nothing."""
        for (place, pattern), reason in WIDER.items():
            if self.file.startswith(place) and re.search(pattern, self.line):
                return reason
        return ""


def floats_of(source: str, names: str) -> Iterator[tuple[int, int]]:
    """Return where the floats of a module's laws stand, those of tolerances (below 1e-4) and zeros left out."""
    starts = [0]
    for line in source.splitlines(keepends=True):
        starts.append(starts[-1] + len(line.encode()))
    raw = source.encode()
    laws = [each for each in ast.parse(source).body if re.fullmatch(names, name_of(each))]
    for node in (inner for law in laws for inner in ast.walk(law)):
        if isinstance(node, ast.Constant) and isinstance(node.value, float) and node.value >= 1e-4:
            start = starts[node.lineno - 1] + node.col_offset
            end = starts[(node.end_lineno or node.lineno) - 1] + (node.end_col_offset or 0)
            yield len(raw[:start].decode()), len(raw[:end].decode())


def name_of(statement: ast.stmt) -> str:
    """Return the name that a statement of a module defines, or nothing."""
    if isinstance(statement, ast.FunctionDef | ast.ClassDef):
        return statement.name
    targets = statement.targets if isinstance(statement, ast.Assign) else [getattr(statement, "target", None)]
    first = targets[0].elts[0] if isinstance(targets[0], ast.Tuple) else targets[0]
    return first.id if isinstance(first, ast.Name) else ""


def numbers_of(source: str) -> Iterator[tuple[int, int]]:
    """Return where the numbers of a card stand: behind a key, or as the value or bounds of a default."""
    for found in re.finditer(r"(?m)^\w+ = (?:\{ value = )?(\[?[-0-9.][-0-9., ]*\]?)", source):
        for number in re.finditer(r"\d+\.?\d*", found[1]):
            yield found.start(1) + number.start(), found.start(1) + number.end()


def is_practice(source: str, start: int, line: str) -> bool:
    """Say if a card's number counts something, or is common practice or our own choice by its source."""
    name = line.split(" =")[0]
    if name in ("schema", "level") or (name in ("target_modulus_kpa", "solid_share_pct") and "{" not in line):
        return name in ("schema", "level")
    if "{" not in line:
        beside = re.search(rf'(?m)^{name}_source = "(.*)"$', source)
        after = re.compile(r'(?m)^source = "(.*)"$').search(source, start)
        line = beside[1] if beside else after[1] if after else ""
    practice = re.search(r"common practice, no source|our own choice", line)
    return practice is not None and re.search(r"doi |NATICK|publication", line) is None


def plants() -> list[Plant]:
    """Return all errors to plant, shuffled once."""
    cards = {
        path.relative_to(studying.ROOT).as_posix(): (CARDS, "")
        for folder in (MATERIALS, FAMILIES)
        for path in sorted((studying.ROOT / folder).glob("*.toml"))
    }
    found: list[Plant] = []
    for file, (tests, names) in {**LAWS, **cards}.items():
        source = (studying.ROOT / file).read_text("utf-8")
        for start, end in floats_of(source, names) if names else numbers_of(source):
            line = source[source.rfind("\n", 0, start) + 1 : source.find("\n", end)].strip()
            text = source[start:end]
            if float(text) == 0.0 or (file.endswith(".toml") and is_practice(source, start, line)):
                continue
            found += [Plant(file, start, end, text, line, factor, tests) for factor in (1.1, 0.9)]
    random.Random(1).shuffle(found)
    return found


def copied(folder: Path) -> None:
    """Copy what the tests need."""
    for name in ("addon", "shared", "tests", "scripts", "docs"):
        shutil.copytree(studying.ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__", "images"))
    shutil.copy(studying.ROOT / "pyproject.toml", folder)


def is_seen(plant: Plant | None, tests: tuple[str, ...], folder: Path) -> bool:
    """Say if a test fails with the error planted; the copy is as before afterwards."""
    if plant is not None:
        place = folder / plant.file
        source = place.read_text("utf-8")
        place.write_text(plant.planted(source), "utf-8")
    child = os.fork()
    if child == 0:
        code = 3  # of pytest itself
        try:
            code = _tested(tests, folder)
        finally:
            os._exit(code)
    _, status = os.waitpid(child, 0)
    if plant is not None:
        place.write_text(source, "utf-8")
    code = os.waitstatus_to_exitcode(status)
    if code not in (0, 1, 2):  # 2: a test file could not even be read with the error in it
        raise RuntimeError(f"The tests {', '.join(tests)} ended with {code}.")
    return code != 0


def _tested(tests: tuple[str, ...], folder: Path) -> int:
    import pytest

    os.chdir(folder)
    sys.path[:] = [path for path in sys.path if path not in studying.PATHS]
    sys.dont_write_bytecode = True
    with redirect_stdout(io.StringIO()), redirect_stderr(io.StringIO()):
        options = [
            "-x",
            "-q",
            "-p",
            "no:cacheprovider",
            "-W",
            "ignore::pytest.PytestAssertRewriteWarning",
            "--rootdir",
            str(folder),
        ]
        return int(pytest.main([*options, *(str(folder / test) for test in tests)]))


def study(seeds: range) -> studying.Finding:
    """Plant the errors of these numbers."""
    for name in LOADED:
        importlib.import_module(name)
    if "padwright" in sys.modules:
        raise RuntimeError("padwright is loaded already; its copy could not be.")
    every = plants()
    chosen = [every[seed % len(every)] for seed in seeds]
    counts: dict[str, list[int]] = {}
    missed: list[str] = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        copied(folder)
        # The tests pass without an error: asked of all of them, but in a sample of the cheapest alone.
        for tests in sorted({plant.tests for plant in chosen}, key=len)[: None if len(chosen) > SAMPLE else 1]:
            if is_seen(None, tests, folder):
                raise RuntimeError(f"Without any error planted {', '.join(tests)} do not pass.")
        for plant in chosen:
            count = counts.setdefault(plant.subject, [0, 0, 0])
            count[0] += 1
            if is_seen(plant, plant.tests, folder):
                count[1] += 1
            elif plant.reason:
                count[2] += 1
            else:
                missed.append(f"{plant.file}: {plant.text} x {plant.factor} in: {plant.line}")
    rows = [(subject, *(str(each) for each in counts[subject])) for subject in sorted(counts)]
    totals = [sum(count[column] for count in counts.values()) for column in range(3)]
    rows.append(("all", *(str(each) for each in totals)))
    claims = [(f"no test sees {each}", False) for each in missed]
    claims.append((f"{sum(totals[1:])} of {totals[0]} errors are seen or may be wider", not missed))
    return studying.Finding(
        ("subject", "errors of 10 % planted", "seen by its tests", "may be wider"), tuple(rows), tuple(claims)
    )


if __name__ == "__main__":
    sys.exit(studying.main(__doc__, study, draws=len(plants()), sample=SAMPLE))
