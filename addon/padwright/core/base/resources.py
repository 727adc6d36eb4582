"""The one place that knows where the shared data lies, in a checkout and in the installed zip."""

from __future__ import annotations

from pathlib import Path

from .errors import InputError

_PACKAGE = Path(__file__).resolve().parents[2]


def shared_path(*parts: str) -> Path:
    """Return the path of shared data, e.g. `shared_path("families", "seat_pad.toml")`.

    Raises
    ------
    InputError
        When there is no such file or folder.
    """
    for root in (_PACKAGE / "shared", _PACKAGE.parents[1] / "shared"):
        path = root.joinpath(*parts)
        if path.exists():
            return path
    raise InputError(f'Shared data "{"/".join(parts)}" is not there.', hint="Reinstall Padwright.")


def version() -> str:
    """Return the version; the extension manifest is its only place."""
    import tomllib  # only here: the modeller starts faster without it

    return str(tomllib.loads((_PACKAGE / "blender_manifest.toml").read_text("utf-8"))["version"])
