"""Our 3MF and STL as others read them: lib3mf (the consortium's own reader), the XML schema, trimesh."""

from __future__ import annotations

import hashlib
import io
import re
import zipfile

import lib3mf
import numpy as np
import pytest
import trimesh
from lxml import etree

from support.packing import NAMES, pack_files, regions, sidecar_parts
from support.threemf_xsd import core_schema

FILES = pack_files(sidecar_parts(cells=6))
PACKAGE = FILES["PAD-1.project.3mf"]
SCHEMA = etree.XMLSchema(etree.fromstring(core_schema()))


def model_text() -> bytes:
    return zipfile.ZipFile(io.BytesIO(PACKAGE)).read("3D/3dmodel.model")


def read_strictly(data: bytes):
    """Return lib3mf's model; in strict mode every warning is an error (lib3mf documentation, SetStrictModeActive)."""
    wrapper = lib3mf.get_wrapper()
    model = wrapper.CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.AddRelationToRead("urn:uuid:d076f347-4248-4a01-b201-48c515374bbb")
    reader.ReadFromBuffer(list(data))
    assert [reader.GetWarning(index) for index in range(reader.GetWarningCount())] == []
    return model


def meshes(model):
    found = model.GetMeshObjects()
    while found.MoveNext():
        yield found.GetCurrentMeshObject()


@pytest.mark.parametrize("color_by_firmness", [False, True])
def test_lib3mf_reads_it_strictly_without_a_warning(color_by_firmness):
    data = pack_files(sidecar_parts(), color_by_firmness=color_by_firmness)["PAD-1.project.3mf"]
    found = list(meshes(read_strictly(data)))
    assert [each.GetName() for each in found] == list(NAMES)
    assert [each.GetPartNumber() for each in found] == ["PAD-1.heel", "PAD-1.arch"]
    assert all(each.IsManifoldAndOriented() and each.IsValid() for each in found)


def test_lib3mf_finds_the_same_hash_uuid_and_volume_as_the_sidecar_says():
    import json

    sidecar = json.loads(FILES["PAD-1.settings.json"])
    for entry, found in zip(sidecar["regions"], meshes(read_strictly(PACKAGE)), strict=True):
        vertices = np.array([each.Coordinates[:] for each in found.GetVertices()], dtype=np.float64)
        faces = np.array([each.Indices[:] for each in found.GetTriangleIndices()], dtype="<u4")
        counts = np.rint(vertices * 1e4).astype("<i8")
        digest = hashlib.sha256(counts.tobytes() + faces.tobytes()).hexdigest()
        assert digest == entry["geometry"]["mesh_sha256"]
        assert found.GetUUID()[1] == entry["geometry"]["object_uuid"]
        assert found.GetResourceID() == entry["geometry"]["object_id"]
        corner = counts[faces] / 1e4
        volume = np.einsum("ij,ij->", corner[:, 0], np.cross(corner[:, 1], corner[:, 2])) / 6e3
        assert volume == pytest.approx(entry["volume_cm3"], rel=1e-9)


def test_lib3mf_places_the_whole_part_by_one_rigid_item():
    model = read_strictly(PACKAGE)
    items = model.GetBuildItems()
    assert items.Count() == 1
    items.MoveNext()
    item = items.GetCurrent()
    fields = np.array([list(row) for row in item.GetObjectTransform().Fields])
    to_bed = sidecar_parts().part.to_bed
    assert np.allclose(fields, np.concatenate([to_bed[:3, :3].T, to_bed[:3, 3][None]]), atol=1e-4)
    components = item.GetObjectResource()
    assert components.IsComponentsObject()
    assert item.GetPartNumber() == "PAD-1"


def test_lib3mf_finds_the_settings_inside():
    model = read_strictly(PACKAGE)
    found = {}
    for index in range(model.GetAttachmentCount()):
        attachment = model.GetAttachment(index)
        found[attachment.GetPath()] = bytes(attachment.WriteToBuffer())
    assert found["/3D/Other/settings.json"] == FILES["PAD-1.settings.json"]


def test_the_schema_of_the_standard_accepts_the_model():
    SCHEMA.assertValid(etree.fromstring(model_text()))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b'unit="millimeter"', b'unit="mm"'),
        (b'displaycolor="#', b'displaycolor="'),
        (b'<triangle v1="', b'<triangle v1="-'),
        (b'<vertex x="', b'<vertex x="1,'),
        (b'<vertex x="', b'<vertex x="NaN" q="'),
        (b'transform="0 ', b'transform="'),
        (b'type="model"', b'type="body"'),
        (rb"(<metadatagroup>.*?</metadatagroup>\n)(<mesh>.*?</mesh>\n)", rb"\2\1"),
        (rb"(<resources>.*</resources>\n)(<build.*</build>\n)", rb"\2\1"),
    ],
)
def test_the_schema_would_see_a_broken_model(old, new):
    """The faults of which some pass lib3mf (order of elements, bad colors): the check above can fail."""
    pattern = old if old.startswith(b"(") else re.escape(old)
    broken, number = re.subn(pattern, new, model_text(), count=1, flags=re.DOTALL)
    assert number == 1
    assert not SCHEMA.validate(etree.fromstring(broken))


def test_trimesh_reads_the_package_back():
    pytest.importorskip("networkx", reason="trimesh reads 3MF scenes with networkx")
    scene = trimesh.load_scene(io.BytesIO(PACKAGE), file_type="3mf")
    to_bed = sidecar_parts().part.to_bed
    assert set(scene.geometry) == set(NAMES)
    for region in regions(6):
        mesh = scene.geometry[region.name]
        assert mesh.is_volume
        assert mesh.volume == pytest.approx(region.mesh.volume, rel=1e-5)
    corners = np.concatenate([region.mesh.vertices for region in regions(6)]) @ to_bed[:3, :3].T + to_bed[:3, 3]
    assert np.allclose(scene.bounds, [corners.min(axis=0), corners.max(axis=0)], atol=1e-4)


def test_trimesh_reads_each_stl_back_as_it_lies_on_the_bed():
    to_bed = sidecar_parts().part.to_bed
    for region in regions(6):
        mesh = trimesh.load_mesh(io.BytesIO(FILES[f"PAD-1.{region.id}.stl"]), file_type="stl")
        assert mesh.is_volume
        assert mesh.volume == pytest.approx(region.mesh.volume, rel=1e-5)
        laid = region.mesh.vertices @ to_bed[:3, :3].T + to_bed[:3, 3]
        assert np.allclose(mesh.bounds, [laid.min(axis=0), laid.max(axis=0)], atol=0.6e-4)
