"""Write test scans the way other programs do, with nothing of the tool's own readers or writers."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np

from padwright.core.base.mesh import TriMesh
from scan_making import Float, ply_bytes

from .cases import Case


def write_stl_binary(mesh: TriMesh, path: Path) -> Path:
    """Write a binary STL: 80 bytes of header, a count, 50 bytes a triangle."""
    record = np.zeros(len(mesh.faces), dtype=[("normal", "<f4", (3,)), ("corner", "<f4", (3, 3)), ("extra", "<u2")])
    record["normal"], record["corner"] = mesh.face_normals, mesh.triangles
    path.write_bytes(b"test scan".ljust(80) + np.uint32(len(mesh.faces)).tobytes() + record.tobytes())
    return path


def write_stl_ascii(mesh: TriMesh, path: Path) -> Path:
    """Write an ASCII STL."""
    lines = ["solid test scan"]
    for normal, corner in zip(mesh.face_normals, mesh.triangles, strict=True):
        lines.append("facet normal {:.6e} {:.6e} {:.6e}\n outer loop".format(*normal))
        lines.extend("  vertex {:.8e} {:.8e} {:.8e}".format(*point) for point in corner)
        lines.append(" endloop\nendfacet")
    path.write_text("\n".join([*lines, "endsolid test scan"]) + "\n", "ascii")
    return path


def _rows(form: str, values: Float) -> str:
    return "".join(form.format(*row) for row in values.tolist())


def write_obj(mesh: TriMesh, path: Path) -> Path:
    """Write an OBJ, with vertex colors behind the positions where the mesh has them."""
    if mesh.colors is None:
        points = _rows("v {:.9g} {:.9g} {:.9g}\n", mesh.vertices)
    else:
        share = mesh.colors[:, :3] / 255.0
        points = _rows("v {:.9g} {:.9g} {:.9g} {:.4f} {:.4f} {:.4f}\n", np.hstack([mesh.vertices, share]))
    path.write_text("# test scan\n" + points + _rows("f {} {} {}\n", mesh.faces + 1), "ascii")
    return path


def write_ply(mesh: TriMesh, path: Path, *, form: str = "little") -> Path:
    """Write a PLY: `form` is "little", "big" (binary) or "ascii"."""
    if form in ("little", "big"):
        path.write_bytes(ply_bytes(mesh.vertices, mesh.faces, byte_order=form))
        return path
    head = (
        f"ply\nformat ascii 1.0\ncomment test scan\nelement vertex {len(mesh.vertices)}\n"
        "property float x\nproperty float y\nproperty float z\n"
        f"element face {len(mesh.faces)}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    body = _rows("{:.9g} {:.9g} {:.9g}\n", mesh.vertices) + _rows("3 {} {} {}\n", mesh.faces)
    path.write_text(head + body, "ascii")
    return path


def write_off(mesh: TriMesh, path: Path) -> Path:
    """Write an OFF."""
    head = f"OFF\n{len(mesh.vertices)} {len(mesh.faces)} 0\n"
    body = _rows("{:.9g} {:.9g} {:.9g}\n", mesh.vertices) + _rows("3 {} {} {}\n", mesh.faces)
    path.write_text(head + body, "ascii")
    return path


def write_scan(mesh: TriMesh, folder: Path, stem: str, file_format: str) -> Path:
    """Write a scan as "stl", "stl ascii", "obj", "ply", "ply big", "ply ascii" or "off"."""
    suffix, _, form = file_format.partition(" ")
    path = folder / f"{stem}.{suffix}"
    if suffix == "stl":
        return write_stl_ascii(mesh, path) if form == "ascii" else write_stl_binary(mesh, path)
    if suffix == "ply":
        return write_ply(mesh, path, form=form or "little")
    return {"obj": write_obj, "off": write_off}[suffix](mesh, path)


def _point(values: Float) -> str:
    return "[" + ", ".join(f"{value:.9g}" for value in values) + "]"


def _lengths(case: Case, role: str) -> list[str]:
    lines = []
    for length in case.lengths:
        start = length.base_from if role == "base" else length.impression_from
        end = length.base_to if role == "base" else length.impression_to
        lines += [
            f"[[{role}.check_lengths]]",
            f'name = "{length.name}"',
            f"measured_mm = {length.measured_mm:.3f}",
            "plus_minus_mm = 0.1",
            f"from = {_point(start)}",
            f"to = {_point(end)}",
            "",
        ]
    return lines


def job_text(case: Case, base_scan: str, impression_scan: str, *, extra: str = "", has_pages: bool = False) -> str:
    """Return the job of a case; `extra` is TOML to put at its end.

    Report and print sheet are left out unless asked for: they take as long as all else of a small part.
    """
    family = case.family
    lines = ["schema = 1", "", "[part]", f'name = "Test {case.kind}"', f'number = "{case.kind.upper()}"']
    lines.append(f'family = "{family}"')
    if family == "liner_pad":
        lines.append("certified_gear = false")
    lines += ["", "[base]", f'scan = "{base_scan}"', f'unit = "{case.unit}"', "", *_lengths(case, "base")]
    lines += ["[impression]", f'scan = "{impression_scan}"', f'unit = "{case.unit}"']
    if np.isclose(case.base_factor, case.impression_factor, rtol=1e-9):
        lines += ['scale = "as base"', ""]
    else:
        lines += ["", *_lengths(case, "impression")]
    direction = case.press_direction_in_base
    lines += ["[body]", 'press_direction = "inward"' if direction is None else f"press_direction = {_point(direction)}"]
    if case.family == "seat_pad":
        lines.append(f"load_center_spacing_mm = {case.truth.spacing_mm:.1f}")
    gap, least, radius = {"nose_pad": (0.1, 1.0, 3.0), "grip": (0.3, 2.0, 10.0), "insole": (0.3, 2.5, 18.0)}.get(
        family, (0.4, 4.0, 24.0)
    )
    lines += ["", "[pad]", f"fit_gap_mm = {gap}", f"least_thickness_mm = {least}", ""]
    lines += ["[[zones]]", 'name = "bearing"', "level = 4", 'source = "load_centers"', f"radius_mm = {radius}", ""]
    lines += ["[[zones]]", 'name = "rest"', "level = 2", 'source = "rest"', ""]
    lines += ["[material]", 'card = "tpu_85a"', "", "[printer]", "nozzle_mm = 0.4", ""]
    if not has_pages:
        lines += ["[output]", "report = false", "sheet = false", ""]
    return "\n".join(lines) + extra


def truth_record(case: Case) -> dict[str, object]:
    """Return what is true of the case, for reading beside a run's evidence (part frame, mm)."""
    truth = case.truth
    direction = case.press_direction_in_base
    return {
        "kind": case.kind,
        "unit": case.unit,
        "noise_mm": case.noise_mm,
        "base_factor": case.base_factor,
        "impression_factor": case.impression_factor,
        "impression_to_base": case.impression_to_base.tolist(),
        "base_file_to_true": case.base_to_true.tolist(),
        "impression_file_to_true": case.impression_to_true.tolist(),
        "press_direction": None if direction is None else direction.tolist(),
        "load_centres": case.load_centers_in_base.tolist(),
        "load_thickness_mm": truth.load_thickness.tolist(),
        "spacing_mm": truth.spacing_mm,
        "volume_mm3": truth.volume_mm3,
        "footprint_area_mm2": truth.footprint_area_mm2,
        "contact_area_mm2": truth.contact_area_mm2,
        "overlap_share": truth.overlap_share,
    }


def write_job(case: Case, folder: Path, *, file_format: str = "ply", extra: str = "", has_pages: bool = False) -> Path:
    """Write both scans, job.toml and truth.json into the folder; return the job's path. Pages as for `job_text`."""
    folder.mkdir(parents=True, exist_ok=True)
    base = write_scan(case.base, folder, "base", file_format)
    impression = write_scan(case.impression, folder, "impression", file_format)
    (folder / "truth.json").write_text(json.dumps(truth_record(case), indent=1), "utf-8")
    job = folder / "job.toml"
    job.write_text(job_text(case, base.name, impression.name, extra=extra, has_pages=has_pages), "utf-8")
    return job
