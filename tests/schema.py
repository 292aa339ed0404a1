"""The W3C MusicXML 4.0 schema, from the `musicxml` package, for the whole suite."""

import re
import tempfile
from functools import cache
from importlib.util import find_spec
from pathlib import Path

from lxml import etree

IMPORTED = {
    "xml": ("http://www.w3.org/XML/1998/namespace", {"lang": (), "space": ("default", "preserve")}),
    "xlink": (
        "http://www.w3.org/1999/xlink",
        {
            "href": (),
            "role": (),
            "title": (),
            "type": ("simple",),
            "show": ("new", "replace", "embed", "other", "none"),
            "actuate": ("onRequest", "onLoad", "other", "none"),
        },
    ),
}


def schema_file():
    """The schema's path inside the installed package."""
    spec = find_spec("musicxml")
    return Path(spec.origin).parent / "generate_classes" / "musicxml_4_0.xsd"


def imported_schema(prefix):
    """The attributes MusicXML imports from a namespace; the package does not bring them along."""
    namespace, attributes = IMPORTED[prefix]
    return (
        '<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" '
        f'targetNamespace="{namespace}">'
        + "".join(_attribute(name, values) for name, values in attributes.items())
        + "</xs:schema>"
    )


def _attribute(name, values):
    if not values:
        return f'<xs:attribute name="{name}" type="xs:token"/>'
    listed = "".join(f'<xs:enumeration value="{v}"/>' for v in values)
    return (
        f'<xs:attribute name="{name}"><xs:simpleType><xs:restriction base="xs:NMTOKEN">'
        f"{listed}</xs:restriction></xs:simpleType></xs:attribute>"
    )


@cache
def schema():
    """The compiled schema, its two imports answered from this computer."""
    text = schema_file().read_text(encoding="utf-8")
    local = re.sub(r'schemaLocation="[^"]*/(xml|xlink)\.xsd"', r'schemaLocation="\1.xsd"', text)
    with tempfile.TemporaryDirectory() as folder:
        here = Path(folder)
        (here / "musicxml.xsd").write_text(local, encoding="utf-8")
        for prefix in IMPORTED:
            (here / f"{prefix}.xsd").write_text(imported_schema(prefix), encoding="utf-8")
        return etree.XMLSchema(file=str(here / "musicxml.xsd"))


def faults(xml):
    """What the schema has against a document, one line each."""
    root = etree.fromstring(xml, etree.XMLParser(no_network=True, load_dtd=False))
    schema().validate(root)
    return [f"line {e.line}: {e.message}" for e in schema().error_log]


def assert_valid(xml):
    """Fails with the first faults where a document (bytes) is not valid MusicXML 4.0."""
    found = faults(xml)
    assert not found, "\n".join(found[:10])
