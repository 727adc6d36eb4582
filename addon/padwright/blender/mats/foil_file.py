"""Which file of a mat is the picture of a pressed foil."""

from typing import Any


def is_picture(part: Any) -> bool:
    """Say if the part's mat is the picture of a foil, by how its name ends: panels read no file."""
    from ...core.job.mat_table import PICTURE_ENDINGS  # not on enabling

    return bool(part.mat_file.strip().lower().endswith(PICTURE_ENDINGS))
