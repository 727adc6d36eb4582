"""The printed solid: a pad whose inside is folded walls."""

from ..stage import Stage, Step

STAGE = Stage(
    __name__,
    title="the printed shape",
    after=("scans", "alignment", "reading", "pad", "zones", "regions", "folds", "load"),
    reads=(),
    steps=(
        Step("shape the walls", 0.2, "work.shape", lambda job: job.fill.kind == "folds"),
        Step("look at every layer", 0.2, "work.look_at_layers", lambda job: job.fill.kind == "folds"),
    ),
    evidence="work.shape_evidence",
)
