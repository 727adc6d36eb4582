"""The 3MF package, read by the standard library alone: structure, numbers, and the same bytes each time."""

from __future__ import annotations

import hashlib
import io
import re
import struct
import xml.etree.ElementTree as ET
import zipfile
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from padwright.core.base.errors import ExportError
from padwright.core.stages.packing.digits import coordinate_rows, index_rows
from padwright.core.stages.packing.ids import NAMESPACE, part_uuid
from padwright.core.stages.packing.stl import write_stl
from padwright.core.stages.packing.threemf import PartSheet, rigid_matrix, to_bed_matrix, write_threemf
from padwright.core.stages.regions.bodies import pack_bodies
from support.packing import NAMES, TURN, pack_files, regions, sidecar_parts

CORE = "{http://schemas.microsoft.com/3dmanufacturing/core/2015/02}"
UUID = "{http://schemas.microsoft.com/3dmanufacturing/production/2015/06}UUID"
SHEET = PartSheet("Seat pad", "PAD-1", "TPU 85A", "2026-01-31T12:34:56Z", "Padwright 0.1.0")


@cache
def packed(color_by_firmness: bool = False) -> dict[str, bytes]:
    return pack_files(sidecar_parts(), color_by_firmness=color_by_firmness)


def package(**options) -> zipfile.ZipFile:
    return zipfile.ZipFile(io.BytesIO(packed(**options)["PAD-1.project.3mf"]))


def model(**options) -> ET.Element:
    return ET.fromstring(package(**options).read("3D/3dmodel.model"))


def test_one_item_holds_one_object_of_components_one_a_region():
    root = model()
    items = root.findall(f"{CORE}build/{CORE}item")
    objects = {each.get("id"): each for each in root.iter(f"{CORE}object")}
    assert len(items) == 1
    whole = objects[items[0].get("objectid")]
    parts = [objects[each.get("objectid")] for each in whole.iter(f"{CORE}component")]
    assert [each.get("name") for each in parts] == list(NAMES)
    assert [each.get("partnumber") for each in parts] == ["PAD-1.heel", "PAD-1.arch"]
    assert items[0].get("partnumber") == whole.get("partnumber") == "PAD-1"
    assert whole.get("pid") is None
    assert len(objects) == 3


def test_uuids_are_version_5_lower_case_and_all_different():
    root = model()
    found = [each.get(UUID) for each in root.iter() if each.get(UUID)]
    assert len(found) == len(set(found)) == 1 + 1 + 3 + 2
    assert all(re.fullmatch(r"[0-9a-f]{8}-[0-9a-f]{4}-5[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}", u) for u in found)


def test_a_uuid_is_the_truncated_sha1_of_rfc_9562():
    """RFC 9562 section 5.5, worked out by hand: SHA-1 of namespace and name, version and variant bits set."""
    digest = bytearray(hashlib.sha1(NAMESPACE.bytes + b"PAD-1\nregion:heel").digest()[:16])
    digest[6] = digest[6] & 0x0F | 0x50
    digest[8] = digest[8] & 0x3F | 0x80
    assert part_uuid("PAD-1", "region:heel").replace("-", "") == digest.hex()


def test_vertices_are_the_regions_vertices_to_half_a_step():
    root = model()
    for region, mesh in zip(regions(), root.iter(f"{CORE}mesh"), strict=True):
        vertices = np.array([[float(each.get(k)) for k in "xyz"] for each in mesh.iter(f"{CORE}vertex")])
        faces = np.array([[int(each.get(f"v{k}")) for k in (1, 2, 3)] for each in mesh.iter(f"{CORE}triangle")])
        assert np.abs(vertices - region.mesh.vertices).max() <= 0.5e-4 + 1e-12
        assert np.array_equal(faces, region.mesh.faces)


def test_the_item_transform_is_to_bed_for_row_vectors_and_lands_in_the_positive_octant():
    root = model()
    numbers = [float(value) for value in root.find(f"{CORE}build/{CORE}item").get("transform").split()]
    rows = np.array(numbers).reshape(4, 3)
    to_bed = sidecar_parts().part.to_bed
    for mesh in root.iter(f"{CORE}mesh"):
        vertices = np.array([[float(each.get(k)) for k in "xyz"] for each in mesh.iter(f"{CORE}vertex")])
        placed = vertices @ rows[:3] + rows[3]
        assert np.allclose(placed, vertices @ to_bed[:3, :3].T + to_bed[:3, 3], atol=1e-9)
        assert placed.min() >= 0.0
    assert np.allclose(rows[:3].T, TURN)


def test_the_sidecar_is_the_same_bytes_inside_and_out_and_hangs_on_the_root():
    files = packed()
    archive = zipfile.ZipFile(io.BytesIO(files["PAD-1.project.3mf"]))
    assert archive.read("3D/Other/settings.json") == files["PAD-1.settings.json"]
    relations = ET.fromstring(archive.read("_rels/.rels"))
    targets = {each.get("Type").rsplit("/", 1)[-1]: each.get("Target") for each in relations}
    assert targets == {
        "3dmodel": "/3D/3dmodel.model",
        "mustpreserve": "/3D/Other/settings.json",
        "thumbnail": "/Metadata/thumbnail.png",
    }
    assert all(target[1:] in archive.namelist() for target in targets.values())
    types = ET.fromstring(archive.read("[Content_Types].xml"))
    known = {each.get("Extension") for each in types}
    assert {name.rsplit(".", 1)[-1] for name in archive.namelist() if name != "[Content_Types].xml"} == known
    values = {each.get("name"): each.text for each in ET.fromstring(archive.read("3D/3dmodel.model")).findall(
        f"{CORE}metadata")}  # fmt: skip
    assert values["pw:settings_sha256"] == hashlib.sha256(files["PAD-1.settings.json"]).hexdigest()
    assert values["CreationDate"] == "2026-01-31T12:34:56Z"


def test_the_same_part_gives_the_same_bytes_and_another_time_other_bytes():
    first, second = packed(), pack_files(sidecar_parts())
    assert first == second
    parts = sidecar_parts()
    later = replace(parts, provenance=replace(parts.provenance, created_utc="2026-02-01T00:00:00Z"))
    assert pack_files(later)["PAD-1.project.3mf"] != first["PAD-1.project.3mf"]


def test_the_archive_is_plain_zip_deflated_with_a_fixed_system_and_time():
    archive = package()
    for info in archive.infolist():
        assert info.compress_type in (zipfile.ZIP_DEFLATED, zipfile.ZIP_STORED)
        assert (info.create_system, info.extract_version) == (3, 20)
        assert info.date_time == (2026, 1, 31, 12, 34, 56)
    assert archive.testzip() is None


@pytest.mark.parametrize("year", ["1970", "2500"])
def test_times_that_zip_cannot_hold_are_brought_into_its_range(year):
    bodies = pack_bodies(regions())
    sheet = replace(SHEET, created_utc=f"{year}-05-05T00:00:00Z")
    archive = zipfile.ZipFile(io.BytesIO(write_threemf(bodies, sheet, sidecar=b"{}", to_bed=to_bed_matrix(bodies))))
    assert archive.infolist()[0].date_time[0] in (1980, 2107)


def test_one_material_or_one_a_level():
    plain = [each.get("name") for each in model().iter(f"{CORE}base")]
    colored = [each.get("displaycolor") for each in model(color_by_firmness=True).iter(f"{CORE}base")]
    assert plain == ["TPU 85A"]
    assert colored[0] == "#43407F"
    assert len(set(colored)) == 2


@pytest.mark.parametrize(
    ("matrix", "words"),
    [
        (np.diag([2.0, 1, 1, 1]), "not a turn and a shift"),
        (np.diag([-1.0, 1, 1, 1]), "determinant -1"),
        (np.eye(3), "not a 4x4"),
        (np.diag([1.0, 1, 1, 2]), "last row"),
        (np.full((4, 4), np.nan), "not a 4x4"),
    ],
)
def test_an_orientation_that_is_not_rigid_is_refused(matrix, words):
    with pytest.raises(ExportError, match=words):
        rigid_matrix(matrix)


def test_a_part_below_the_bed_is_refused():
    with pytest.raises(ExportError, match=r"start at \(-10\.00, -20\.12, 3\.00\) mm"):
        write_threemf(pack_bodies(regions()), SHEET, sidecar=b"{}", to_bed=np.eye(4))


def test_any_turn_lands_on_the_bed():
    from scipy.spatial.transform import Rotation

    bodies = pack_bodies(regions())
    for turn in Rotation.random(20, random_state=3).as_matrix():
        matrix = rigid_matrix(to_bed_matrix(bodies, turn, margin_mm=2.0))
        placed = np.concatenate([body.mesh.vertices @ matrix[:3, :3].T + matrix[:3, 3] for body in bodies])
        assert np.all(placed.min(axis=0) >= [2.0, 2.0, 0.0])
        assert np.all(placed.min(axis=0) <= np.array([2.0, 2.0, 0.0]) + 1.1e-4)


def test_names_that_xml_cannot_hold_still_give_readable_xml():
    bodies = pack_bodies([replace(regions()[0], name='a\x00\x0b]]>"\n\t\ud800')])
    data = write_threemf(bodies, SHEET, sidecar=b"{}", to_bed=to_bed_matrix(bodies))
    root = ET.fromstring(zipfile.ZipFile(io.BytesIO(data)).read("3D/3dmodel.model"))
    assert next(root.iter(f"{CORE}object")).get("name") == 'a  ]]>"   '


@pytest.mark.parametrize(
    "values",
    [
        np.array([[0, 1, -1], [10_000, -10_000, 9_999], [123_456, -1_234_500, 100_000_000], [10, -100, 999_999_999]]),
        np.random.default_rng(0).integers(-(10**9) + 1, 10**9, (70_000, 3)),
    ],
)
def test_coordinates_are_written_as_python_would_write_them(values):
    text = b"".join(coordinate_rows(values, (b"", b" ", b" ", b"\n"))).decode().split()
    expected = [f"{value // 10_000 if value >= 0 else -(-value // 10_000)}" for value in values.ravel().tolist()]
    assert np.array_equal(np.array([round(float(each) * 10_000) for each in text]), values.ravel())
    assert all(re.fullmatch(r"0|-?(0|[1-9][0-9]*)(\.[0-9]{0,3}[1-9])?", each) for each in text)
    assert [each.split(".")[0].lstrip("-") for each in text] == [each.lstrip("-") for each in expected]
    assert "-0" not in text


def test_indices_are_written_as_python_would_write_them():
    values = np.array([[0, 9, 10], [999, 1000, 9999], [10_000, 10_001, 123_456], [99_999_999, 1_000_000, 20_000]])
    text = b"".join(index_rows(values.astype(np.int32), (b"<", b",", b",", b">"))).decode()
    assert text == "".join(f"<{a},{b},{c}>" for a, b, c in values.tolist())


def test_stl_is_binary_with_its_unit_in_the_header_and_read_back_by_hand():
    body = pack_bodies(regions())[0]
    to_bed = to_bed_matrix([body], TURN)
    data = write_stl(body, "solid-1", to_bed)
    laid = body.mesh.triangles @ to_bed[:3, :3].T + to_bed[:3, 3]
    assert not data.startswith(b"solid")
    assert b"heel mm" in data[:80]
    (count,) = struct.unpack("<I", data[80:84])
    assert len(data) == 84 + 50 * count == 84 + 50 * len(body.faces)
    for index in (0, count - 1):
        values = struct.unpack("<12fH", data[84 + 50 * index : 134 + 50 * index])
        corner = np.array(values[3:12]).reshape(3, 3)
        assert np.allclose(corner, laid[index], atol=1e-5)
        normal = np.cross(corner[1] - corner[0], corner[2] - corner[0])
        assert np.allclose(values[:3], normal / np.linalg.norm(normal), atol=1e-5)
