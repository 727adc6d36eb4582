"""What a pressure mat showed, read from any file and laid on the body side."""

from ..stage import Stage, Step

STAGE = Stage(
    __name__,
    title="the pressure mat",
    after=("scans", "alignment", "reading"),
    reads=("mat",),
    files=("mat.file",),
    steps=(Step("lay the mat", 0.02, "work.lay_mat", lambda job: job.mat.file is not None),),
    evidence="evidence.mat_evidence",
)
