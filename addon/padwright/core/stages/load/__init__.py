"""The body on the pad: contact, pressure, sinkage, tuning."""

from ..stage import Stage, Step

STAGE = Stage(
    __name__,
    title="the load",
    after=("scans", "alignment", "body", "reading", "mats", "pad", "zones", "regions", "folds"),
    reads=(
        "limits",
        "load",
        "target",
    ),
    steps=(
        Step("choose the settings", 0.01, "work.choose"),
        Step("tune", 0.01, "work.tune", lambda job: job.target.goal != "levels"),
        Step("check the load", 0.02, "work.check"),
    ),
    evidence="evidence.load_evidence",
)
