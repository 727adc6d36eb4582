"""Files made to break a reader: counts without data, meshes shown a thousand times, words where lists belong."""

from __future__ import annotations

import json
import struct
import time

import numpy as np
import pytest

from padwright.core.base.errors import ScanError
from padwright.core.stages.scans.read import read_scan
from support.scan_files import glb, obj, off, ply


def glb_of(scene: object, binary: bytes = b"") -> bytes:
    """Return a GLB with this scene description, an object or its text."""
    text = (scene if isinstance(scene, str) else json.dumps(scene)).encode()
    text += b" " * (-len(text) % 4)
    body = struct.pack("<II", len(text), 0x4E4F534A) + text
    if binary:
        body += struct.pack("<II", len(binary), 0x004E4942) + binary
    return struct.pack("<4sII", b"glTF", 2, 12 + len(body)) + body


def scene_of(data: bytes) -> tuple[dict, bytes]:
    """Return the scene description and the binary data of a GLB."""
    size = int.from_bytes(data[12:16], "little")
    return json.loads(data[20 : 20 + size]), data[28 + size :]


def changed(change) -> bytes:
    scene, binary = scene_of(glb())
    change(scene)
    return glb_of(scene, binary)


def bare(count: str) -> str:
    """Return a scene whose points are stated and nowhere: zeros, by the format's rules."""
    return (
        '{"asset":{"version":"2.0"},"meshes":[{"primitives":[{"attributes":{"POSITION":0}}]}],'
        f'"accessors":[{{"componentType":5126,"type":"VEC3","count":{count}}}]}}'
    )


BROKEN = {
    "a count of infinity": (glb_of(bare("1e999")), "no count"),
    "a count that is no number": (glb_of(bare("NaN")), "NaN is no number"),
    "a count of five thousand digits": (glb_of(bare("9" * 5000)), "5000 digits"),
    "half a count": (glb_of(bare("2.5")), "2.5, no count"),
    "8 GB of points in 256 bytes": (glb_of(bare("333333333")), "far more points"),
    "deep lists": (glb_of('{"nodes":' + "[" * 100_000 + "]" * 100_000 + "}"), "nested too deeply"),
    "a word for nodes": (changed(lambda scene: scene.update(nodes="abc")), '"nodes" is no list'),
    "a word for children": (changed(lambda scene: scene["nodes"][0].update(children="0")), '"children" is no list'),
    "a number for extensions": (changed(lambda scene: scene.update(extensionsRequired=5)), "is no list"),
    "a table for meshes": (changed(lambda scene: scene.update(meshes={})), "is no list"),
    "a word for a mesh": (changed(lambda scene: scene["nodes"][0].update(mesh="0")), "no whole number"),
    "yes for a mesh": (changed(lambda scene: scene["nodes"][0].update(mesh=True)), "no whole number"),
    "a place that is infinite": (
        glb_of(json.dumps(scene_of(glb())[0]).replace('"mesh"', '"scale":[1e999,1,1],"mesh"', 1), scene_of(glb())[1]),
        "no finite number",
    ),
    "points of two numbers": (
        changed(lambda scene: scene["accessors"][0].update(type="VEC2")),
        "not three coordinates",
    ),
    "an offset below nothing": (changed(lambda scene: scene["bufferViews"][0].update(byteOffset=-4)), "no count"),
}


@pytest.mark.parametrize("what", BROKEN)
def test_a_broken_glb_is_refused_in_words_and_at_once(what: str) -> None:
    data, says = BROKEN[what]
    begin = time.perf_counter()
    with pytest.raises(ScanError, match=says):
        read_scan(data, "scan.glb")
    assert time.perf_counter() - begin < 2.0  # what is refused late has been made first; a slow machine takes 0.1 s


def test_a_mesh_shown_again_and_again_is_refused_but_a_few_times_is_not() -> None:
    scene, binary = scene_of(glb())
    for times in (3, 5000):
        scene["nodes"] = [{"mesh": 0, "translation": [float(index), 0, 0]} for index in range(times)]
        scene["scenes"] = [{"nodes": list(range(times))}]
        scene["scene"] = 0
        data = glb_of(scene, binary)
        if times == 3:
            assert len(read_scan(data, "scan.glb").mesh.faces) == 12
    points = np.zeros((30_000, 3), dtype="<f4")
    points[:, 0] = np.arange(len(points))
    scene = json.loads(bare("30000"))
    scene |= {"buffers": [{"byteLength": points.nbytes}], "bufferViews": [{"buffer": 0, "byteLength": points.nbytes}]}
    scene["accessors"][0]["bufferView"] = 0
    scene["nodes"] = [{"mesh": 0}] * 5000
    with pytest.raises(ScanError, match="again and again"):
        read_scan(glb_of(scene, points.tobytes()), "scan.glb")


@pytest.mark.parametrize(
    "data",
    [
        b"# " * 5000 + b"x",  # a comment that could be cut in 2**5000 ways
        b"OFF\n4 4 0\n" + b"nan(" * 50_000,
        b"v 0 0 0\nv 1 0 0\nv 0 1 0\n" + b"f " + b"1 2 3 " * 50_000 + b"\n",
        b"v 0 0 0\nv 1 0 0\nv 0 1 0\n" + b"\n".join(b"f" + b" 1 2 3" * size for size in range(2, 400)),
        ply().replace(b"element face", b"element nothing 4000000000\nelement face"),
        ply("binary_little_endian").replace(b"element face", b"element nothing 4000000000\nelement face"),
    ],
    ids=["comment", "odd nan", "one huge face", "faces of many sizes", "empty rows", "empty rows, binary"],
)
def test_text_that_could_take_for_ever_does_not(data: bytes) -> None:
    begin = time.perf_counter()
    try:
        read_scan(data, "scan")
    except ScanError:
        pass
    assert time.perf_counter() - begin < 10.0  # each took minutes or for ever; now 0.1 to 0.5 s on an idle machine


def test_a_large_polygon_among_small_ones_keeps_its_place() -> None:
    points = "".join(f"v {np.cos(a):.6f} {np.sin(a):.6f} {0.1 * (i % 3)}\n" for i, a in enumerate(np.linspace(0, 6, 9)))
    scan = read_scan((points + "f 1 2 3\nf 1 2 3 4 5\nf 4 5 6\nf 3 4 5 6 7 8 9\n").encode(), "scan.obj")
    assert scan.mesh.faces.tolist()[:5] == [[0, 1, 2], [0, 1, 2], [0, 2, 3], [0, 3, 4], [3, 4, 5]]
    assert scan.mesh.faces.tolist()[5:] == [[2, 3, 4], [2, 4, 5], [2, 5, 6], [2, 6, 7], [2, 7, 8]]


def textured(kind: str) -> bytes:
    """Return a small scan with a texture in each format that can have one."""
    if kind == "glb":

        def lay_out(scene: dict) -> None:
            scene["images"] = [{"uri": "skin.png"}]
            scene["meshes"][0]["primitives"][0]["attributes"].pop("COLOR_0", None)

        return changed(lay_out)
    if kind == "obj":
        return obj()
    if kind == "off":
        return off().replace(b"OFF", b"STOFF", 1)
    return ply().replace(b"comment made by hand", b"comment TextureFile skin.png")


@pytest.mark.parametrize(
    ("kind", "found", "colors"),
    [
        ("obj", 'material file "x.mtl", 1 texture point', "and has vertex colors"),
        ("ply", "picture skin.png", "and has vertex colors"),
        ("glb", "1 picture", "): read where"),
        ("off", "texture points", "): read where"),
    ],
)
def test_a_texture_is_told_and_when_it_is_read(kind: str, found: str, colors: str) -> None:
    told = [note for note in read_scan(textured(kind), f"scan.{kind}").notes if "textured" in note]
    assert len(told) == 1 and found in told[0] and colors in told[0] and "asks for marks of a color" in told[0]


def test_a_scan_without_texture_says_nothing_of_one() -> None:
    plain = (glb(), ply(), off(), obj().replace(b"vt 0 0\n", b""))
    for data in plain:
        assert not any("textured" in note for note in read_scan(data, "scan").notes)
