"""Where the pad is to be firm and where soft."""

from ..stage import Stage, Step

STAGE = Stage(
    __name__,
    title="the zones",
    after=("scans", "alignment", "reading", "mats", "pad"),
    reads=("zones", "blend"),
    files=("zones.file",),
    beside="colored.files_beside",
    steps=(Step("plan the zones", 0.05, "work.plan"),),
    evidence="evidence.zones_evidence",
)
