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
        "printer",
        "material",
        "body.rigid",
        "body.flesh_thickness_mm",
        "impression.pressed_with_n",
        "impression.clay_pressure",
    ),
    files=("material.card",),
    steps=(
        Step("choose the settings", 0.01, "work.choose"),
        Step("tune", 0.01, "work.tune", lambda job: job.target.goal != "levels"),
        Step("check the load", 0.02, "work.check"),
    ),
    evidence="evidence.load_evidence",
)
