"""What the body left in the clay."""

from ..stage import Stage, Step

STAGE = Stage(
    __name__,
    title="the reading",
    after=("scans", "alignment", "body"),
    reads=(
        "body.press_direction",
        "impression.clay_thickness_mm",
        "body.load_center_spacing_mm",
        "impression.contact_depth_mm",
        "impression.load_center_count",
        "impression.load_centers",
        "impression.smoothing_mm",
        "impression.body_side_smoothing_mm",
        "impression.average_sides",
    ),
    steps=(Step("read the impression", 0.05, "work.read_body_side"),),
    evidence="evidence.reading_evidence",
)
