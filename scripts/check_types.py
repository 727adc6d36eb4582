"""Check the types of the add-on in the modeller against stubs of its oldest release; mypy alone checks the core's.

    python3.11 scripts/check_types.py

The stubs (fake-bpy-module) have an environment of their own, `.venv-types`: some of them hide the real module. What
they get wrong is listed below, each with its reason; any other complaint fails.
"""

from __future__ import annotations

import re
import subprocess
import sys

from setup_env import ROOT, prepared

_CURVES = "splines|resolution_u|extrude|bevel_|fill_mode|dimensions"  # what curves have and meshes have not
STUBS_ARE_WRONG = (
    # Each kind of value has a class of its own, which has it.
    r'"(Any \| )?Attribute" has no attribute "data"',
    r'Item "SplinePoint" of "BezierSplinePoint \| SplinePoint"',  # likewise for the two kinds of points
    # Vectors are sequences of numbers, and arrays serve where numbers in a row are asked for.
    r'"Vector" has no attribute "__iter__"|"zip" matches argument types "Vector"',
    r'incompatible type "Vector"; expected "Sequence\[float\]"',
    r'incompatible type .*"ndarray',
    r'"prod" matches argument type "Vector"',
    # Whatever the modeller's own text leaves without a described result is said to return None.
    r"does not return a value \(it only ever returns None\)",
    r'"None" (has no attribute|not callable|is not indexable)|Value of type "None"',
    r'Cannot determine type of "(is_found|near)"',
    r'incompatible type "None"; expected "(GPUShader|str)',
    # Objects carry values of one's own, scenes the add-on's data, and groups the properties of their annotations.
    r"Unsupported (right operand type for in|target for indexed assignment)|is not indexable",
    r'"(type\[)?Scene\]?( \| None)?" has no attribute "padwright"',
    r'Item "Space" of "Space \| None" has no attribute',  # each kind of space has a class of its own
    r'"PropertyGroup" has no attribute',
    # A name chosen at run time: the modeller refuses wrong ones, and the tests draw and press all there are.
    r'(expected|has type) "(set\[)?Literal\[|base class "(Panel|Operator)" defined the type as "set\[Literal',
    # An object's data may be of any kind, and a context's scene may be missing: polls ask for both beforehand.
    r'incompatible type "(Armature|Camera) \| ',
    r'Item "None" of ',
    rf'Item "(?!Mesh")\w+" of "(Armature|Camera) \| .* has no attribute "(?!{_CURVES})',
    rf'Item "(?!Curve")\w+" of "(Armature|Camera) \| .* has no attribute "({_CURVES})',
    r'incompatible type "(Scene|Object|Window|ViewLayer|Collection) \| None"; expected',
    # Mix-ins of operators and panels, and what the modeller's helpers for files put into theirs.
    r'incompatible type "(type\[)?_?[A-Z]\w+\]?"; expected "(type\[)?Operator',
    r'"(type\[)?\w+\]?" has no attribute "(report|bl_label|execute|layout|filepath|bl_options|properties)"',
    r'"type\[Button\]" has no attribute "poll_message_set"',
)


def main(arguments: list[str]) -> int:
    """Run mypy on the modeller's layer and return 1 when it finds what the list does not explain."""
    if sys.version_info[:2] != (3, 11):
        sys.exit(f"The stubs are locked for Python 3.11 and this is {sys.version_info[0]}.{sys.version_info[1]}.")
    python = prepared(ROOT / ".venv-types", ["types.txt"])
    command = [str(python), "-m", "mypy", "--config-file", "requirements/types.ini", "--no-error-summary", *arguments]
    answer = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    if answer.returncode not in (0, 1):
        print(answer.stdout + answer.stderr, file=sys.stderr)
        return answer.returncode
    found = [line for line in answer.stdout.splitlines() if ": error:" in line]
    left = [line for line in found if not any(re.search(pattern, line) for pattern in STUBS_ARE_WRONG)]
    print("\n".join(left))
    print(f"{len(left)} errors; {len(found) - len(left)} more that the stubs' own gaps explain.")
    return 1 if left else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
