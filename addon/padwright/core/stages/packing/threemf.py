"""The regions as one 3MF project file, after the 3MF Core Specification 1.4.0.

One build item holds one object of components, one component a region: consumers may rearrange items but must not move
components against each other (sections 3.4.3.1 and 4.2), so the regions stay where they belong.
"""

from __future__ import annotations

import hashlib
import io
import re
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from ...base.errors import ExportError
from ...base.mesh import Float
from ..regions.bodies import RegionBody
from .digits import coordinate_rows, index_rows
from .ids import NAMESPACE_URI, SETTINGS_RELATION, part_uuid

MODEL_PART = "3D/3dmodel.model"
SETTINGS_PART = "3D/Other/settings.json"
THUMBNAIL_PART = "Metadata/thumbnail.png"
TRANSFORM_DECIMALS = 9
"""A turn rounded to 1e-9 moves a point 1 m from the origin by 1e-6 mm."""

_CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
_PRODUCTION = "http://schemas.microsoft.com/3dmanufacturing/production/2015/06"
_RELATIONSHIPS = "http://schemas.openxmlformats.org/package/2006/relationships"
_CONTENT_TYPES = "http://schemas.openxmlformats.org/package/2006/content-types"
_HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n'
_VERTEX = (b'<vertex x="', b'" y="', b'" z="', b'"/>\n')
_TRIANGLE = (b'<triangle v1="', b'" v2="', b'" v3="', b'"/>\n')
_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_DEFLATE_LEVEL = 4
"""Measured on half a million noisy triangles: 2 % larger than level 6 in less than half of its time."""


@dataclass(frozen=True)
class PartSheet:
    """What the 3MF says about the part as a whole."""

    title: str
    part_number: str
    material: str  # the real material's name; regions of one part are one material
    created_utc: str  # RFC 3339 in UTC, "2026-01-31T12:00:00Z"
    application: str  # name and version of this tool
    description: str = ""


def write_threemf(
    bodies: Sequence[RegionBody],
    sheet: PartSheet,
    *,
    sidecar: bytes,
    to_bed: Float,
    bed_scale: Float | None = None,
    thumbnail: bytes | None = None,
    colors: Sequence[str] | None = None,
    wished: Mapping[str, float] | None = None,
) -> bytes:
    """Return the 3MF package.

    Raises ExportError when `to_bed` is not rigid, would put the part outside the positive octant (section 3.3), or a
    body has more vertices than the writer can number.

    Parameters
    ----------
    bodies : sequence of RegionBody
        From `pack_bodies`; their order is the order of the components.
    sidecar : bytes
        The settings document, stored byte for byte as /3D/Other/settings.json.
    to_bed : (4, 4) float, mm
        Rigid motion from the part frame to the build frame, for column vectors.
    bed_scale : (3,) float, optional
        By what the part is multiplied along the bed's axes behind that, for shrinkage; the shapes in the file keep
        their true size.
    thumbnail : bytes, optional
        A PNG picture.
    colors : sequence of str, optional
        "#RRGGBB" a body. Given, each color becomes a base material of its own; else all share one material.
    wished : mapping of region id to float, optional
        The firmness level asked for; the body's own is that of the region as printed.
    """
    moved = rigid_matrix(to_bed)
    if bed_scale is not None:
        moved = np.diag([*bed_scale, 1.0]) @ moved
    _check_octant(bodies, moved)
    if any(len(body.counts) >= 10**8 for body in bodies):
        raise ExportError("A region has more than 100 million vertices.", hint="Use coarser scans.")
    buffer = io.BytesIO()
    stamp = _zip_time(sheet.created_utc)
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as package:
        _store(package, "[Content_Types].xml", stamp, _content_types(thumbnail is not None))
        _store(package, "_rels/.rels", stamp, _root_relations(thumbnail is not None))
        _store(package, "3D/_rels/3dmodel.model.rels", stamp, _relations([(f"/{SETTINGS_PART}", SETTINGS_RELATION)]))
        _store(package, SETTINGS_PART, stamp, sidecar)
        if thumbnail is not None:
            _store(package, THUMBNAIL_PART, stamp, thumbnail, zipfile.ZIP_STORED)
        # ZIP64 comes by itself past 2 GiB of text, about 30 million triangles; older readers cannot take it before.
        _store(package, MODEL_PART, stamp, b"".join(_model(bodies, sheet, sidecar, moved, colors, wished or {})))
    return buffer.getvalue()


def rigid_matrix(to_bed: Float) -> Float:
    """Return the 4x4 matrix rounded as the file writes it; sidecar and 3MF both use this one.

    Raises ExportError when the matrix does more than turn and shift: the turn must be orthonormal to 1e-6 with
    determinant +1.
    """
    matrix = np.asarray(to_bed, dtype=np.float64)
    if matrix.shape != (4, 4) or not np.isfinite(matrix).all() or not np.array_equal(matrix[3], [0, 0, 0, 1]):
        raise ExportError("The print orientation is not a 4x4 matrix with the last row 0 0 0 1.")
    turn = matrix[:3, :3]
    error = float(np.abs(turn @ turn.T - np.eye(3)).max())
    if error > 1e-6 or np.linalg.det(turn) < 0:
        raise ExportError(
            f"The print orientation is not a turn and a shift (off by {error:.2g}, determinant "
            f"{np.linalg.det(turn):.3f}).",
            hint="A part is never mirrored on the way to the bed, and scaled by shrinkage alone.",
        )
    return np.round(matrix, TRANSFORM_DECIMALS) + 0.0


def to_bed_matrix(bodies: Sequence[RegionBody], turn: Float | None = None, margin_mm: float = 0.0) -> Float:
    """Return the rigid 4x4 that turns the part by `turn` (3, 3) and sets it on the bed's corner, z = 0 underneath."""
    matrix = np.eye(4)
    if turn is not None:
        matrix[:3, :3] = turn
    matrix = np.round(matrix, TRANSFORM_DECIMALS)
    low = np.min([(body.mesh.vertices @ matrix[:3, :3].T).min(axis=0) for body in bodies], axis=0)
    # Rounded up to the coordinate step, so that no corner ends below zero by a rounding.
    matrix[:3, 3] = np.ceil((np.array([margin_mm, margin_mm, 0.0]) - low) * 1e4 - 1e-6) / 1e4
    return matrix


def _check_octant(bodies: Sequence[RegionBody], matrix: Float) -> None:
    low = np.min([(body.mesh.vertices @ matrix[:3, :3].T + matrix[:3, 3]).min(axis=0) for body in bodies], axis=0)
    if low.min() < -1e-3:
        raise ExportError(
            f"On the bed the part would start at ({low[0]:.2f}, {low[1]:.2f}, {low[2]:.2f}) mm.",
            hint="Shift it so that no coordinate is below zero.",
        )


def _model(
    bodies: Sequence[RegionBody],
    sheet: PartSheet,
    sidecar: bytes,
    to_bed: Float,
    colors: Sequence[str] | None,
    wished: Mapping[str, float],
) -> Iterator[bytes]:
    """Yield the text of the 3D model part."""
    number = sheet.part_number
    yield (
        f'{_HEAD}<model unit="millimeter" xmlns="{_CORE}" xmlns:p="{_PRODUCTION}" xmlns:pw="{NAMESPACE_URI}">\n'
    ).encode()
    values = [
        ("Title", sheet.title),
        ("Description", sheet.description),
        ("Application", sheet.application),
        ("CreationDate", sheet.created_utc),
        ("pw:settings_part", f"/{SETTINGS_PART}"),
        ("pw:settings_sha256", hashlib.sha256(sidecar).hexdigest()),
    ]
    yield "".join(_metadata(name, value) for name, value in values if value).encode()
    palette = ["#B8B2A7"] if colors is None else list(dict.fromkeys(colors))
    yield b'<resources>\n<basematerials id="1">\n'
    for color in palette:
        name = sheet.material if colors is None else f"{sheet.material} {color}"
        yield f"<base name={_quoted(name)} displaycolor={_quoted(color)}/>\n".encode()
    yield b"</basematerials>\n"
    for index, body in enumerate(bodies):
        color_index = 0 if colors is None else palette.index(colors[index])
        yield (
            f'<object id="{index + 2}" type="model" name={_quoted(body.name)} '
            f'partnumber={_quoted(f"{number}.{body.id}")} pid="1" pindex="{color_index}" '
            f'p:UUID="{part_uuid(number, f"region:{body.id}")}">\n<metadatagroup>\n'
            f"{_metadata('pw:region', body.id)}{_metadata('pw:firmness_level', f'{body.firmness_level:g}')}"
            f"{_metadata('pw:wished_level', f'{wished[body.id]:g}') if body.id in wished else ''}"
            "</metadatagroup>\n<mesh>\n<vertices>\n"
        ).encode()
        yield from coordinate_rows(body.counts, _VERTEX)
        yield b"</vertices>\n<triangles>\n"
        yield from index_rows(body.faces, _TRIANGLE)
        yield b"</triangles>\n</mesh>\n</object>\n"
    whole = len(bodies) + 2
    yield (
        f'<object id="{whole}" type="model" name={_quoted(sheet.title)} partnumber={_quoted(number)} '
        f'p:UUID="{part_uuid(number, "part")}">\n<components>\n'
    ).encode()
    for index, body in enumerate(bodies):
        unique = part_uuid(number, f"component:{body.id}")
        yield f'<component objectid="{index + 2}" p:UUID="{unique}"/>\n'.encode()
    # The standard's matrices act on row vectors (section 3.3): the turn is written transposed, the shift last.
    flat = np.concatenate([to_bed[:3, :3].T.ravel(), to_bed[:3, 3]])
    transform = " ".join(_decimal(value) for value in flat)
    yield (
        f'</components>\n</object>\n</resources>\n<build p:UUID="{part_uuid(number, "build")}">\n'
        f'<item objectid="{whole}" transform="{transform}" partnumber={_quoted(number)} '
        f'p:UUID="{part_uuid(number, "item")}"/>\n</build>\n</model>\n'
    ).encode()


def _decimal(value: float) -> str:
    """Return the value as plain decimal text, never with an exponent and never "-0"."""
    text = f"{value:.{TRANSFORM_DECIMALS}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _xml(text: str) -> str:
    """Return the text for XML content; characters XML 1.0 cannot hold become blanks."""
    return _NOT_XML.sub(" ", text).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _quoted(text: str) -> str:
    """Return the text as a quoted XML attribute; line ends and tabs become blanks."""
    return '"' + re.sub(r"[\t\n\r]", " ", _xml(text)).replace('"', "&quot;") + '"'


def _metadata(name: str, value: str) -> str:
    preserve = ' preserve="1"' if ":" in name else ""
    return f'<metadata name="{name}"{preserve} type="xs:string">{_xml(value)}</metadata>\n'


def _content_types(has_picture: bool) -> bytes:
    kinds = {
        "rels": "application/vnd.openxmlformats-package.relationships+xml",
        "model": "application/vnd.ms-package.3dmanufacturing-3dmodel+xml",
        "json": "application/json",
    }
    if has_picture:
        kinds["png"] = "image/png"
    lines = "".join(f'<Default Extension="{end}" ContentType="{kind}"/>\n' for end, kind in kinds.items())
    return f'{_HEAD}<Types xmlns="{_CONTENT_TYPES}">\n{lines}</Types>\n'.encode()


def _root_relations(has_picture: bool) -> bytes:
    targets = [
        (f"/{MODEL_PART}", "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"),
        (f"/{SETTINGS_PART}", "http://schemas.openxmlformats.org/package/2006/relationships/mustpreserve"),
    ]
    if has_picture:
        kind = "http://schemas.openxmlformats.org/package/2006/relationships/metadata/thumbnail"
        targets.append((f"/{THUMBNAIL_PART}", kind))
    return _relations(targets)


def _relations(targets: Sequence[tuple[str, str]]) -> bytes:
    lines = "".join(
        f'<Relationship Target="{target}" Id="rel{index}" Type="{kind}"/>\n'
        for index, (target, kind) in enumerate(targets)
    )
    return f'{_HEAD}<Relationships xmlns="{_RELATIONSHIPS}">\n{lines}</Relationships>\n'.encode()


def _zip_time(created_utc: str) -> tuple[int, int, int, int, int, int]:
    """Return the time for ZIP entries; ZIP knows 1980 to 2107 (APPNOTE 4.4.6)."""
    time = datetime.fromisoformat(created_utc.replace("Z", "+00:00"))
    year = min(max(time.year, 1980), 2107)
    if year != time.year:
        return (year, 1, 1, 0, 0, 0)
    return (year, time.month, time.day, time.hour, time.minute, time.second)


def _store(
    package: zipfile.ZipFile,
    name: str,
    stamp: tuple[int, int, int, int, int, int],
    data: bytes,
    method: int = zipfile.ZIP_DEFLATED,
) -> None:
    info = zipfile.ZipInfo(name, stamp)
    info.create_system = 3  # else it says which system wrote the file, and the bytes differ
    info.external_attr = 0o644 << 16
    package.writestr(info, data, method, _DEFLATE_LEVEL)
