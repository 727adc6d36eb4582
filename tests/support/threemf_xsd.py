"""An XML schema of the 3D model part, built from the rules of the 3MF Core Specification 1.4.0, Appendix B.1.1.

Written anew from the appendix (github.com/3MFConsortium/spec_core, commit 997b385) as a table of elements, not copied:
the same elements, order, counts, attributes and value types. Left out: `xml:lang`, which our files do not use (a file
that did would be refused here), and the appendix's upper count of 2147483647, which libxml2 cannot take: unbounded.
"""

from __future__ import annotations

NAMESPACE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"

_NUMBER = r"(\-|\+)?([0-9]+(\.[0-9]+)?|\.[0-9]+)((e|E)(\-|\+)?[0-9]+)?"
_HEX = "[0-9|A-F|a-f]"
SIMPLE = {
    "Unit": ("string", ["micron", "millimeter", "centimeter", "inch", "foot", "meter"], None),
    "Kind": ("string", ["model", "solidsupport", "support", "surface", "other"], None),
    "Color": ("string", None, f"#{_HEX}{{6}}({_HEX}{{2}})?"),
    "PartUri": ("anyURI", None, "/.*"),
    "Matrix": ("string", None, " ".join([_NUMBER] * 12)),
    "Number": ("double", None, _NUMBER),
    "Id": ("positiveInteger", None, None),
    "Index": ("nonNegativeInteger", None, None),
}
"""Value types: base, allowed words, pattern. Ids and indices are below 2**31."""

ANY = "*"
"""Elements of other namespaces, any number."""

ELEMENTS: dict[str, tuple[list[tuple[str, int, int | None]], dict[str, str], bool]] = {
    "model": (
        [("metadata", 0, None), ("resources", 1, 1), ("build", 1, 1), (ANY, 0, None)],
        {"unit": "Unit", "requiredextensions": "xs:string", "recommendedextensions": "xs:string"},
        True,
    ),
    "resources": ([("basematerials|*", 0, None), ("object", 0, None)], {}, True),
    "build": ([("item", 0, None)], {}, True),
    "basematerials": ([("base", 1, None)], {"id!": "Id"}, True),
    "base": ([], {"name!": "xs:string", "displaycolor!": "Color"}, True),
    "metadatagroup": ([("metadata", 1, None)], {}, True),
    "object": (
        [("metadatagroup", 0, 1), ("mesh|components", 1, 1), (ANY, 0, None)],
        {
            "id!": "Id", "type": "Kind", "thumbnail": "PartUri", "partnumber": "xs:string", "name": "xs:string",
            "pid": "Id", "pindex": "Index",
        },
        True,
    ),
    "mesh": ([("vertices", 1, 1), ("triangles", 1, 1), (ANY, 0, None)], {}, True),
    "vertices": ([("vertex", 3, None)], {}, True),
    "vertex": ([], {"x!": "Number", "y!": "Number", "z!": "Number"}, True),
    "triangles": ([("triangle", 1, None)], {}, True),
    "triangle": (
        [],
        {"v1!": "Index", "v2!": "Index", "v3!": "Index", "p1": "Index", "p2": "Index", "p3": "Index", "pid": "Id"},
        True,
    ),
    "components": ([("component", 1, None)], {}, True),
    "component": ([(ANY, 0, None)], {"objectid!": "Id", "transform": "Matrix"}, True),
    "item": (
        [("metadatagroup", 0, 1), (ANY, 0, None)],
        {"objectid!": "Id", "transform": "Matrix", "partnumber": "xs:string"},
        True,
    ),
    "metadata": ([], {"name!": "xs:QName", "preserve": "xs:boolean", "type": "xs:string"}, True),
}  # fmt: skip
"""Children in order with least and greatest count, attributes ("!": required), other namespaces' attributes allowed."""


def core_schema() -> str:
    """Return the schema as XSD text."""
    parts = [
        f'<xs:schema xmlns="{NAMESPACE}" xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="{NAMESPACE}" '
        'elementFormDefault="unqualified" attributeFormDefault="unqualified" blockDefault="#all">'
    ]
    for name, (base, words, pattern) in SIMPLE.items():
        rules = '<xs:whiteSpace value="collapse"/>' if name in ("Matrix", "Number") else ""
        rules += "".join(f'<xs:enumeration value="{word}"/>' for word in words or ())
        rules += f'<xs:pattern value="{pattern}"/>' if pattern else ""
        rules += '<xs:maxExclusive value="2147483648"/>' if name in ("Id", "Index") else ""
        restriction = f'<xs:restriction base="xs:{base}">{rules}</xs:restriction>'
        parts.append(f'<xs:simpleType name="{name}">{restriction}</xs:simpleType>')
    for name, (children, attributes, is_open) in ELEMENTS.items():
        inner = "".join(_child(*child) for child in children)
        inner = f"<xs:sequence>{inner}</xs:sequence>" if children else ""
        for attribute, kind in attributes.items():
            use = ' use="required"' if attribute.endswith("!") else ""
            inner += f'<xs:attribute name="{attribute.rstrip("!")}" type="{kind}"{use}/>'
        inner += '<xs:anyAttribute namespace="##other" processContents="lax"/>' if is_open else ""
        mixed = ' mixed="true"' if name == "metadata" else ""
        parts.append(f'<xs:element name="{name}"><xs:complexType{mixed}>{inner}</xs:complexType></xs:element>')
    return "".join(parts) + "</xs:schema>"


def _child(name: str, least: int, most: int | None) -> str:
    count = f'minOccurs="{least}" maxOccurs="{"unbounded" if most is None else most}"'
    if name == ANY:
        return f'<xs:any namespace="##other" processContents="lax" {count}/>'
    if "|" not in name:
        return f'<xs:element ref="{name}" {count}/>'
    choices = "".join(_child(each, 1, 1) for each in name.split("|"))
    return f"<xs:choice {count}>{choices}</xs:choice>"
