"""The pad cut into bodies of one firmness each."""

from ..stage import Stage, Step

STAGE = Stage(
    __name__,
    title="the regions",
    after=("scans", "pad", "zones"),
    reads=("regions", "printer.bead_width_mm", "fill.kind"),
    steps=(Step("cut the regions", 0.08, "work.cut"),),
    evidence="evidence.regions_evidence",
)
