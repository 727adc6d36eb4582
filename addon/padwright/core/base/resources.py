"""The one place that knows where the shared data lies, in a checkout and in the installed zip."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

from .errors import InputError

_PACKAGE = Path(__file__).resolve().parents[2]


def shared_path(*parts: str) -> Path:
    """Return the path of shared data, e.g. `shared_path("families", "seat_pad.toml")`.

    Raises InputError when there is no such file or folder.
    """
    for root in (_PACKAGE / "shared", _PACKAGE.parents[1] / "shared"):
        path = root.joinpath(*parts)
        if path.exists():
            return path
    raise InputError(f'Shared data "{"/".join(parts)}" is not there.', hint="Reinstall Padwright.")


@cache
def family_places() -> dict[str, int]:
    """Return the part families that there are, a card each, by their place in lists.

    Only that line of a card is looked for: the modeller's panels ask before anything else is loaded.
    """
    found = {}
    for card in shared_path("families").glob("*.toml"):
        place = re.search(r"^place *= *(\d+)", card.read_text("utf-8"), re.MULTILINE)
        if place:  # a card without it is refused when it is read
            found[card.stem] = int(place[1])
    return dict(sorted(found.items(), key=lambda each: each[1]))


def version() -> str:
    """Return the version; the extension manifest is its only place."""
    import tomllib  # only here: the modeller starts faster without it

    return str(tomllib.loads((_PACKAGE / "blender_manifest.toml").read_text("utf-8"))["version"])
