"""What a run leaves where several poses fit: a numbered picture of each beside the folder of the part's files."""

from __future__ import annotations

from pathlib import Path

from ..core.base.errors import ExportError, SolveError
from ..core.stages.alignment.candidates import UnsurePoseError


def tell_poses(error: UnsurePoseError, number: str, out: Path) -> SolveError:
    """Write a picture of each candidate and return the error that lists them.

    Parameters
    ----------
    number : str
        Of the part; starts the pictures' names.
    out : Path
        Folder of the part's files, which stays as it is; the pictures go into "<out>.poses" beside it.
    """
    from ..core.stages.alignment.pose_pictures import pose_pictures
    from ..core.stages.packing.bundle import run_document, write_bundle

    pictures = pose_pictures(error.base, error.impression, [each.matrix for each in error.candidates])
    files = {f"{number}.pose-{each.number}.png": data for each, data in zip(error.candidates, pictures, strict=True)}
    folder = out.parent / f"{out.name}.poses"
    commit = f"{number}.poses.json"
    poses = [
        {
            "pose": each.number,
            "words": each.words,
            "explains": each.explains,
            "impression_to_part": each.matrix.tolist(),
        }
        for each in error.candidates
    ]
    try:
        bundle = write_bundle(folder, {**files, commit: run_document({"poses": poses}, files)}, commit_name=commit)
        seen = (
            f"Pictures (base gray, impression orange, from two sides): {bundle.folder}/{number}.pose-1.png and so on."
        )
    except ExportError as failed:
        seen = f"Their pictures could not be written: {failed.message}"
    listed = "\n".join(f"  {each.sentence}" for each in error.candidates)
    return SolveError(f"{error.message}\n{listed}\n{seen}", hint=error.hint)
