"""Builders of files that are broken, odd or hostile, and of small good ones."""

import io
import zipfile

NOTE = (
    "<note><pitch><step>C</step><octave>4</octave></pitch><duration>4</duration>"
    "<voice>1</voice><type>whole</type></note>"
)
OPENING = (
    "<attributes><divisions>1</divisions><key><fifths>0</fifths></key>"
    "<time><beats>4</beats><beat-type>4</beat-type></time>"
    "<clef><sign>G</sign><line>2</line></clef></attributes>"
)
PART_LIST = '<part-list><score-part id="P1"><part-name>Air</part-name></score-part></part-list>'
CONTAINER = '<container><rootfiles><rootfile full-path="{}"/></rootfiles></container>'


def bar(content, number="1", opening=OPENING, attributes=""):
    """One bar as text; the opening attributes come first."""
    return f'<measure number="{number}"{attributes}>{opening}{content}</measure>'


def score(*bars, top="", head="", part_list=PART_LIST, tag="score-partwise"):
    """A score of one part as text, each bar on its own line."""
    body = "\n".join(bars)
    return f'{top}<{tag} version="4.0">{head}{part_list}<part id="P1">\n{body}\n</part></{tag}>'


def notes(*contents, opening=OPENING):
    """A score of one bar with this content, as bytes."""
    return score(bar("\n".join(contents), opening=opening)).encode()


def pitch(step="C", octave="4", alter="", rest=""):
    """A whole note with these texts in its pitch."""
    altered = f"<alter>{alter}</alter>" if alter else ""
    return (
        f"<note><pitch><step>{step}</step>{altered}<octave>{octave}</octave></pitch>"
        f"<duration>4</duration>{rest}<type>whole</type></note>"
    )


def zipped(*entries, method=zipfile.ZIP_DEFLATED):
    """A zip of (name, content) pairs."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", method) as archive:
        for name, content in entries:
            archive.writestr(name, content)
    return stream.getvalue()


def mxl(content, name="score.xml", container=None):
    """A compressed score; the container names the score unless another is given."""
    text = CONTAINER.format(name) if container is None else container
    return zipped(("META-INF/container.xml", text), (name, content))


SOUND = (
    '<score-instrument id="I1"><instrument-name/></score-instrument>'
    '<midi-instrument id="I1"><midi-program>0</midi-program></midi-instrument></score-part>'
)
GROUPS = '<part-list><part-group type="start" number="1"/><part-group type="stop" number="7"/>'


def encrypted():
    """A compressed score whose entries are marked as encrypted."""
    data = bytearray(mxl(score(bar(NOTE))))
    for signature, place in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        start = 0
        while (start := data.find(signature, start)) >= 0:
            data[start + place] |= 1
            start += 4
    return bytes(data)


def entities(levels=12):
    """Entities that multiply ten times at each level."""
    lines = ['<!ENTITY e0 "ten letters">']
    lines += [f'<!ENTITY e{n} "{f"&e{n - 1};" * 10}">' for n in range(1, levels)]
    top = f"<!DOCTYPE score-partwise [{''.join(lines)}]>"
    return score(bar(NOTE), top=top, head=f"<movement-title>&e{levels - 1};</movement-title>")


def entities_in_attribute():
    """The same, in an attribute, where a parser expands them whatever it is told."""
    return (
        entities()
        .replace("<movement-title>&e11;</movement-title>", "")
        .replace('version="4.0"', 'version="&e11;"')
    )
