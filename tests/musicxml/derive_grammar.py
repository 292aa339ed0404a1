"""Derives the reader's grammar table from the W3C MusicXML 4.0 schema.

Run as `python -m tests.musicxml.derive_grammar` from the repository's root to rewrite
`expander/musicxml/grammar.json`; `test_grammar.py` holds the table against the schema.
"""

import json
from pathlib import Path

from lxml import etree

from tests.schema import schema_file

XS = "{http://www.w3.org/2001/XMLSchema}"
TABLE = Path(__file__).parents[2] / "expander" / "musicxml" / "grammar.json"

NUMBERS = {"decimal", "integer", "positiveInteger", "nonNegativeInteger"}
FREE = {"string", "anyURI", "language"}
XLINK = {
    "xlink:href": {"kind": "token"},
    "xlink:type": {"enum": ["simple"]},
    "xlink:role": {"kind": "token"},
    "xlink:title": {"kind": "token"},
    "xlink:show": {"enum": ["new", "replace", "embed", "other", "none"]},
    "xlink:actuate": {"enum": ["onRequest", "onLoad", "other", "none"]},
}
FOREIGN = {"xml:lang": {"kind": "token"}, "xml:space": {"enum": ["default", "preserve"]}, **XLINK}


class Deriver:
    def __init__(self, root):
        self.named = {
            kind: {e.get("name"): e for e in root.findall(XS + kind)}
            for kind in ("simpleType", "complexType", "group", "attributeGroup")
        }
        self.simple = {}
        self.types = {}

    def simple_ref(self, node, name):
        """The name of a simple type, its rule stored on the way."""
        if name:
            self.add_simple(name)
            return name.removeprefix("xs:")
        inline = node.find(XS + "simpleType")
        key = f"in {node.get('name')}"
        self.simple[key] = self.rule(inline)
        return key

    def add_simple(self, name):
        plain = name.removeprefix("xs:")
        if plain in self.simple:
            return
        self.simple[plain] = {}
        self.simple[plain] = (
            self.builtin(plain)
            if name.startswith("xs:")
            else self.rule(self.named["simpleType"][plain])
        )

    @staticmethod
    def builtin(name):
        if name in NUMBERS:
            low = {"positiveInteger": 1, "nonNegativeInteger": 0}.get(name)
            rule = {"kind": "decimal" if name == "decimal" else "integer"}
            return rule | ({"min": low} if low is not None else {})
        return {"kind": {"string": "string"}.get(name, name)}

    def rule(self, node):
        union = node.find(XS + "union")
        if union is not None:
            members = (union.get("memberTypes") or "").split()
            names = [self.simple_ref(node, m) for m in members]
            inline = [self.rule(s) for s in union.findall(XS + "simpleType")]
            return {"any": [*({"ref": n} for n in names), *inline]}
        restriction = node.find(XS + "restriction")
        rule = {"base": self.simple_ref(node, restriction.get("base"))}
        enum = [e.get("value") for e in restriction.findall(XS + "enumeration")]
        if enum:
            rule["enum"] = enum
        patterns = [e.get("value") for e in restriction.findall(XS + "pattern")]
        if patterns:
            rule["pattern"] = "|".join(f"(?:{p})" for p in patterns).replace(r"\c", r"[\w.:\-]")
        for facet, key in (
            ("minInclusive", "min"),
            ("maxInclusive", "max"),
            ("minExclusive", "above"),
            ("minLength", "shortest"),
        ):
            found = restriction.find(XS + facet)
            if found is not None:
                rule[key] = float(found.get("value"))
        return rule

    def attributes(self, node):
        """{name: (simple type, required)} of a complex type, groups resolved."""
        found = {}
        for child in node:
            if child.tag == XS + "attribute":
                name = child.get("name")
                if name:
                    found[name] = (
                        self.simple_ref(child, child.get("type")),
                        child.get("use") == "required",
                    )
                else:
                    ref = child.get("ref")
                    self.simple[ref] = FOREIGN[ref]
                    found[ref] = (ref, child.get("use") == "required")
            elif child.tag == XS + "attributeGroup":
                found |= self.attributes(self.named["attributeGroup"][child.get("ref")])
        return found

    def particle(self, node, children):
        """A regular expression over child names, each followed by a blank."""
        low, high = node.get("minOccurs", "1"), node.get("maxOccurs", "1")
        body = self.body(node, children)
        times = {("1", "1"): "", ("0", "1"): "?", ("0", "unbounded"): "*", ("1", "unbounded"): "+"}
        bound = "" if high == "unbounded" else high
        suffix = times.get((low, high), f"{{{low},{bound}}}")
        return f"(?:{body}){suffix}" if suffix else body

    def body(self, node, children):
        if node.tag == XS + "element":
            name = node.get("name")
            children[name] = self.type_of(node)
            return name + " "
        if node.tag == XS + "group":
            target = self.named["group"][node.get("ref")]
            return "".join(self.particle(c, children) for c in target if c.tag != XS + "annotation")
        parts = [self.particle(c, children) for c in node if c.tag != XS + "annotation"]
        if node.tag == XS + "choice":
            return "(?:" + "|".join(parts) + ")"
        return "".join(parts)

    def type_of(self, element):
        name = element.get("type")
        if name is None:
            key = "in " + element.get("name")
            if key not in self.types:
                self.types[key] = {}
                self.types[key] = self.complex(element.find(XS + "complexType"))
            return key
        if name.startswith("xs:") or name in self.named["simpleType"]:
            self.add_simple(name)
            plain = name.removeprefix("xs:")
            self.types.setdefault("= " + plain, {"text": plain})
            return "= " + plain
        if name not in self.types:
            self.types[name] = {}
            self.types[name] = self.complex(self.named["complexType"][name])
        return name

    def complex(self, node):
        holder, text = node, None
        for kind in ("simpleContent", "complexContent"):
            content = node.find(XS + kind)
            if content is not None:
                holder = content[-1]
                if kind == "simpleContent":
                    text = self.simple_ref(holder, holder.get("base"))
                    if holder.get("base") in self.named["complexType"]:
                        raise NotImplementedError
        result = {}
        attributes = self.attributes(holder)
        if kind_base := (holder.get("base") if text is None and holder is not node else None):
            base = self.complex(self.named["complexType"][kind_base])
            result |= base
        if attributes:
            merged = {n: t for n, (t, _) in attributes.items()}
            result["attributes"] = result.get("attributes", {}) | merged
            required = [n for n, (_, r) in attributes.items() if r]
            if required:
                result["required"] = result.get("required", []) + required
        if text:
            result["text"] = text
        children = {}
        parts = [
            self.particle(c, children)
            for c in holder
            if c.tag in {XS + "sequence", XS + "choice", XS + "group"}
        ]
        if children:
            result["content"] = "".join(parts)
            result["children"] = children
        return result


def derive(path):
    """The grammar table of a schema file."""
    root = etree.parse(str(path)).getroot()
    deriver = Deriver(root)
    roots = {e.get("name"): e for e in root.findall(XS + "element")}
    deriver.types["score"] = deriver.complex(roots["score-partwise"].find(XS + "complexType"))
    return {"types": deriver.types, "values": deriver.simple}


if __name__ == "__main__":
    table = derive(schema_file())
    TABLE.write_text(json.dumps(table, indent=0, sort_keys=True) + "\n", encoding="utf-8")
