"""The body laid on the base and, where no clay was scanned, pressed into virtual clay."""

from ..stage import Stage, Step

AS_IT_LIES = "as it lies in the scene"
"""Name of landmarks that nobody picked: they hold the body where it was laid by eye."""
STAGE = Stage(
    __name__,
    title="the body",
    after=("scans", "alignment"),
    reads=(
        "body.scan_unit",
        "body.pairs",
        "body.check_lengths",
        "body.scan_load_share",
        "body.press_direction",
        "body.flesh_thickness_mm",
        "body.rigid",
        "impression.clay_thickness_mm",
        "impression.imprint_depth_mm",
        "impression.clay_strength_kpa",
        "impression.clay_pressure",
        "impression.pressed_with_n",
        "load.body_mass_kg",
        "load.share",
        "load.force_n",
        "load.point",
        "pad.footprint",
        "pad.contact_margin_mm",
    ),
    files=("body.scan",),
    steps=(Step("press the body into clay", 0.04, "work.press_body", lambda job: job.body.scan is not None),),
    evidence="evidence.body_evidence",
)
