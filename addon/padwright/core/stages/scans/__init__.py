"""Scan files to clean, scaled meshes."""

from ..stage import Stage, Step

STAGE = Stage(
    __name__,
    title="the scans",
    after=(),
    reads=(
        "part.family",
        "base.unit",
        "base.check_lengths",
        "base.pick_error_mm",
        "impression.unit",
        "impression.scale",
        "impression.check_lengths",
        "impression.pick_error_mm",
        "datum",
    ),
    files=("base.scan", "impression.scan"),
    steps=(Step("read, clean and scale", 0.27, "work.capture"),),
    evidence="evidence.scans_evidence",
    recalled="captured.named",
)
