"""Where folded walls may stand in a pad, and the air between them."""

from ..stage import Stage, Step

STAGE = Stage(
    __name__,
    title="the walls' layout",
    after=("scans", "alignment", "pad", "zones", "regions"),
    reads=("fill", "printer", "material"),
    files=("material.card",),
    steps=(Step("lay out the walls", 0.02, "work.lay", lambda job: job.fill.kind == "folds"),),
    evidence="work.layout_evidence",
)
