"""Hostile scores, made here. Each row: the bytes, and what the command must say.

A verdict begins with "no:" (refused, exit 2, in words that hold the rest) or "yes:" (a valid score
is written; the rest, where there is any, is warned of).
"""

from __future__ import annotations

import gzip
import io
import struct
import tarfile
import warnings
import zipfile
import zlib

from tests.musicxml import broken as b

GOOD = b.score(b.bar(b.NOTE))
REST = "<note><rest/><duration>4</duration></note>"
QUARTER = b.NOTE.replace(">4</dur", ">1</dur").replace("whole", "quarter")


def opening(**texts):
    """The opening attributes with the texts of some elements changed."""
    made = b.OPENING
    for name, text in texts.items():
        tag = name.replace("_", "-")
        start, stop = made.index(f"<{tag}>") + len(tag) + 2, made.index(f"</{tag}>")
        made = made[:start] + text + made[stop:]
    return made


def bars(count, content=b.NOTE):
    rows = [b.bar(content, str(n + 1), b.OPENING if n == 0 else "") for n in range(count)]
    return b.score(*rows).encode()


def parts(count, content=b.NOTE):
    listed = "".join(
        f'<score-part id="P{n}"><part-name>P{n}</part-name></score-part>' for n in range(count)
    )
    music = "".join(f'<part id="P{n}">{b.bar(content)}</part>' for n in range(count))
    return (
        f'<score-partwise version="4.0"><part-list>{listed}</part-list>{music}</score-partwise>'
    ).encode()


def marked(*marks, count=4):
    """Four quarters, the first with these notations."""
    inside = f"<notations>{''.join(marks)}</notations></note>"
    return b.notes(QUARTER.replace("</note>", inside), *[QUARTER] * (count - 1))


def headed(top="", head=""):
    return b.score(b.bar(b.NOTE), top=top, head=head).encode()


def titled(text):
    return headed(head=f"<movement-title>{text}</movement-title>")


def direction(kind):
    return b.notes(f"<direction><direction-type>{kind}</direction-type></direction>", b.NOTE)


def chord(count):
    heads = [
        QUARTER.replace("<note>", "<note><chord/>" if n else "<note>").replace(
            "<octave>4", f"<octave>{n % 10}"
        )
        for n in range(count)
    ]
    return b.notes(*heads, *[QUARTER] * 3)


def symbol(inside):
    return b.notes(f"<harmony>{inside}</harmony>", b.NOTE)


def repeated_zip(**names):
    """A zip with two entries of one name."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("META-INF/container.xml", b.CONTAINER.format("a.xml"))
        archive.writestr("a.xml", "<html/>")
        with warnings.catch_warnings(action="ignore"):
            archive.writestr("a.xml", GOOD)
    return stream.getvalue()


def linked_zip():
    """A zip whose score is a symbolic link out of it."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("META-INF/container.xml", b.CONTAINER.format("a.xml"))
        entry = zipfile.ZipInfo("a.xml")
        entry.external_attr = 0o120777 << 16
        archive.writestr(entry, "/etc/passwd")
    return stream.getvalue()


def tarred():
    stream = io.BytesIO()
    with tarfile.open(fileobj=stream, mode="w") as archive:
        entry = tarfile.TarInfo("score.xml")
        entry.size = len(GOOD)
        archive.addfile(entry, io.BytesIO(GOOD.encode()))
    return stream.getvalue()


def crc_wrong():
    data = bytearray(b.zipped(("a.xml", GOOD), method=zipfile.ZIP_STORED))
    place = data.find(b"<step>C")
    data[place + 6 : place + 7] = b"D"
    return bytes(data)


def claims_more(size):
    """A zip whose directory claims another size for its score."""
    data = bytearray(b.zipped(("a.xml", GOOD)))
    place = data.rfind(struct.pack("<I", len(GOOD.encode())))
    data[place : place + 4] = struct.pack("<I", size)
    return bytes(data)


def quadratic():
    """One long entity, used many times: no nesting, yet a great deal of text."""
    top = f'<!DOCTYPE score-partwise [<!ENTITY a "{"x" * 50_000}">]>'
    return headed(top, f"<movement-title>{'&a;' * 2000}</movement-title>")


def doctype(inside):
    return f"<!DOCTYPE score-partwise [{inside}]>"


PNG = b"\x89PNG\r\n\x1a\n" + zlib.compress(bytes(100))
PRIMES = (7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61, 67, 71)


def prime_divisions():
    """Every bar in another division, so that no small common grid exists."""
    rows = []
    for n, prime in enumerate(PRIMES):
        short = QUARTER.replace(">1</dur", ">1</dur").replace("<type>quarter</type>", "")
        own = f"<attributes><divisions>{prime}</divisions></attributes>"
        rows.append(
            b.bar(short + short, str(n + 1), opening(divisions=str(prime)) if n == 0 else own)
        )
    return b.score(*rows).encode()


SCORES = {
    # -- XML attacks
    "an entity long and often": (quadratic(), "no:entity"),
    "an entity that holds itself": (
        headed(
            doctype('<!ENTITY a "&b;"><!ENTITY b "&a;">'), "<movement-title>&a;</movement-title>"
        ),
        "no:entity|well-formed",
    ),
    "an entity that reads /etc/passwd into a word": (
        headed(
            doctype('<!ENTITY x SYSTEM "file:///etc/passwd">'),
            "<identification><creator>&x;</creator></identification>",
        ),
        "no:entity",
    ),
    "a document type on this disk": (
        headed('<!DOCTYPE score-partwise SYSTEM "file:///etc/passwd">'),
        "yes:",
    ),
    "a document type that hangs": (
        headed('<!DOCTYPE score-partwise SYSTEM "http://10.255.255.1/x.dtd">'),
        "yes:",
    ),
    "default attributes from a document type": (
        headed(doctype('<!ATTLIST note color CDATA "#FF0000">')),
        "yes:",
    ),
    "an inclusion of another file": (
        b.notes(
            '<xi:include xmlns:xi="http://www.w3.org/2001/XInclude" href="/etc/passwd"/>',
            b.NOTE,
        ),
        "yes:include",
    ),
    "a style sheet from the network": (
        headed('<?xml-stylesheet type="text/xsl" href="http://nowhere.invalid/x.xsl"?>'),
        "yes:",
    ),
    "an attribute twice": (GOOD.replace("<note>", '<note id="a" id="b">').encode(), "no:not well"),
    "ten thousand attributes": (
        GOOD.replace(
            "<note>", "<note " + " ".join(f'a{n}="{n}"' for n in range(10_000)) + ">"
        ).encode(),
        "yes:",
    ),
    "ten thousand namespaces": (
        GOOD.replace(
            "<note>", "<note " + " ".join(f'xmlns:n{n}="u:{n}"' for n in range(10_000)) + ">"
        ).encode(),
        "yes:",
    ),
    "nested two hundred deep": (
        b.notes("<direction>" * 200 + "</direction>" * 200, b.NOTE),
        "yes:",
    ),
    "a title of a megabyte": (titled("A" * 1_000_000), "yes:"),
    "a title of twenty megabytes": (
        titled("A" * 20_000_000),
        "no:the file is not well\\-formed XML",
    ),
    "a part id of a megabyte": (GOOD.replace('"P1"', f'"P{"1" * 1_000_000}"').encode(), "yes:"),
    "a part name of a megabyte": (GOOD.replace("Air", "Air" * 300_000).encode(), "yes:"),
    "a bar number of a megabyte": (
        GOOD.replace('number="1"', f'number="{"1" * 1_000_000}"').encode(),
        "yes:",
    ),
    "control characters as references": (titled("a&#7;b"), "no:not well-formed"),
    "a title that turns the reading direction": (titled("a\u202eb\u2066c"), "yes:"),
    "text where none belongs": (GOOD.replace("<note>", "music<note>music").encode(), "yes:"),
    # -- encodings
    "UTF-7": (GOOD.replace("Air", "+AOk-").encode(), "yes:"),
    "UTF-32": (('<?xml version="1.0" encoding="UTF-32"?>' + GOOD).encode("utf-32"), "yes:"),
    "an encoding that nobody knows": (
        ('<?xml version="1.0" encoding="x-music"?>' + GOOD).encode(),
        "yes:the file is not in the encoding it names;",
    ),
    "NUL bytes in the middle": (GOOD.encode().replace(b"Air", b"A\x00r"), "no:not well-formed"),
    "half a letter at the end": (
        GOOD.encode() + "é".encode()[:1],
        "no:the file is not well\\-formed XML: Extra",
    ),
    "UTF-16 of odd length": (
        GOOD.encode("utf-16")[:-1],
        "no:the file is not well\\-formed XML: expected",
    ),
    # -- wrong files under right names
    "a picture": (PNG, "no:the file is not well\\-formed XML: Start tag"),
    "a page description": (b"%PDF-1.7\n1 0 obj", "no:not well-formed"),
    "a MIDI file": (b"MThd\x00\x00\x00\x06\x00\x01\x00\x02\x01\xe0MTrk", "no:not well-formed"),
    "JSON": (b'{"score": []}', "no:not well-formed"),
    "a program": (
        b"\x7fELF\x02\x01\x01" + bytes(60),
        "no:the file is not well\\-formed XML: Start tag",
    ),
    "a tar": (tarred(), "no:the file is not well\\-formed XML: Start tag"),
    "gzip around a score": (gzip.compress(GOOD.encode(), mtime=0), "no:gzip"),
    "a drawing": (b'<svg xmlns="http://www.w3.org/2000/svg"/>', "no:<svg>"),
    "a rule file": (b"ensemble: septet\nplan: {}\n", "no:not well-formed"),
    "all zeros": (bytes(5000), "no:the file is not well\\-formed XML: Document is"),
    # -- zips
    "a zip in a zip": (
        b.mxl(b.mxl(GOOD).decode("latin-1"), "inner.mxl"),
        "no:the file is not well\\-formed XML: Start tag",
    ),
    "a zip with a name twice": (repeated_zip(), "yes:"),
    "a zip whose score is a link": (linked_zip(), "no:not well-formed"),
    "a zip with a wrong check sum": (crc_wrong(), "no:damaged"),
    "a zip that claims two gigabytes": (
        claims_more(2**31 - 1),
        "yes:META\\-INF/container\\.xml does not name a",
    ),
    "a zip with a longer name than a disk takes": (b.mxl(GOOD, "a" * 60_000 + ".xml"), "yes:"),
    "a zip with something before it": (b"#!/bin/sh\nexit\n" + b.mxl(GOOD), "no:not well-formed"),
    "a container that attacks": (
        b.mxl(GOOD, container=b.entities().replace("score-partwise", "container")),
        "yes:META\\-INF/container\\.xml does not name a",
    ),
    "a container of a thousand scores": (
        b.mxl(
            GOOD,
            container="<container><rootfiles>"
            + '<rootfile full-path="score.xml"/>' * 1000
            + "</rootfiles></container>",
        ),
        "yes:",
    ),
    "a zip of an office": (
        b.zipped(("[Content_Types].xml", "<Types/>"), ("word/document.xml", "<document/>")),
        "no:the compressed file's META\\-INF/container\\.xml",
    ),
    # -- time
    "a metre of a thousand million beats": (
        b.notes(b.NOTE, opening=opening(beats="999999999")),
        "yes:",
    ),
    "a metre of nothing": (
        b.notes(b.NOTE, opening=opening(beats="0")),
        "yes:a time signature of \\['0'\\] over \\['4'\\] is not",
    ),
    "a metre below nothing": (
        b.notes(b.NOTE, opening=opening(beats="-4")),
        "yes:a time signature of \\['\\-4'\\] over \\['4'\\] is not",
    ),
    "a metre over nothing": (
        b.notes(b.NOTE, opening=opening(beat_type="0")),
        "yes:a time signature of \\['4'\\] over \\['0'\\] is not",
    ),
    "a metre over three": (b.notes(b.NOTE, opening=opening(beat_type="3")), "yes:"),
    "a metre over a million": (
        b.notes(b.NOTE, opening=opening(beat_type="1000000")),
        "yes:bar 1 is longer than its metre: 4 quarters",
    ),
    "a metre in words": (
        b.notes(b.NOTE, opening=opening(beats="three+x")),
        "yes:a time signature of \\['three\\+x'\\] over \\['4'\\]",
    ),
    "a metre of a thousand parts": (
        b.notes(b.NOTE, opening=opening(beats="+".join(["1"] * 1000))),
        "yes:",
    ),
    "a rest of a thousand million quarters": (
        b.notes(REST.replace(">4<", ">999999999<")),
        "no:bar 1 lasts 999999999 quarters, expected at",
    ),
    "a duration beyond all numbers": (
        b.notes(b.NOTE.replace(">4</dur", f">{'9' * 5000}</dur")),
        "yes:a note's duration is",
    ),
    "a step forward of a thousand million": (
        b.notes(b.NOTE, "<forward><duration>999999999</duration></forward>", b.NOTE),
        "no:bar 1 lasts 1000000007 quarters, expected at",
    ),
    "a note at the end of a very long bar": (
        b.notes("<forward><duration>30000000</duration></forward>", b.NOTE),
        "no:bar 1 lasts 30000004 quarters, expected at",
    ),
    "divisions of a thousand million": (
        b.notes(b.NOTE, opening=opening(divisions="1000000000")),
        "yes:a note that lasts no time was read as a",
    ),
    "divisions of almost nothing": (
        b.notes(b.NOTE, opening=opening(divisions="0.00000001")),
        "no:bar 1 lasts 400000000 quarters, expected at",
    ),
    "divisions in prime numbers": (prime_divisions(), "yes:"),
    "a tuplet of nothing": (
        b.notes(
            b.NOTE.replace(
                "</note>",
                "<time-modification><actual-notes>0</actual-notes>"
                "<normal-notes>0</normal-notes></time-modification></note>",
            )
        ),
        "yes:a tuplet's ratio is not two whole numbers",
    ),
    "a tuplet of a million": (
        b.notes(
            b.NOTE.replace(
                "</note>",
                "<time-modification><actual-notes>1000000</actual-notes>"
                "<normal-notes>3</normal-notes></time-modification></note>",
            )
        ),
        "yes:",
    ),
    "fifty dots": (b.notes(b.NOTE.replace("</type>", "</type>" + "<dot/>" * 50)), "yes:"),
    "a note for ever in a short type": (
        b.notes(b.NOTE.replace("whole", "1024th").replace(">4</dur", ">3999</dur")),
        "yes:",
    ),
    # -- size and number
    "a chord of ten thousand": (chord(10_000), "yes:"),
    "three hundred parts": (parts(300), "yes:"),
    "three hundred staves in a part": (
        b.notes(b.NOTE, opening=b.OPENING.replace("<clef>", "<staves>300</staves><clef>")),
        "yes:",
    ),
    "a thousand million staves": (
        b.notes(b.NOTE, opening=b.OPENING.replace("<clef>", "<staves>999999999</staves><clef>")),
        "yes:",
    ),
    "a note on a staff that is not there": (
        b.notes(b.NOTE.replace("</type>", "</type><staff>77</staff>")),
        "yes:",
    ),
    "a thousand voices in a bar": (
        b.notes(
            *[
                b.NOTE.replace("<voice>1", f"<voice>{n}")
                + "<backup><duration>4</duration></backup>"
                for n in range(1000)
            ]
        ),
        "yes:",
    ),
    "five hundred bars": (bars(500), "yes:"),
    "a thousand grace notes": (
        b.notes(
            *[
                b.pitch()
                .replace("<note>", "<note><grace/>")
                .replace("<duration>4</duration>", "")
                .replace("whole", "eighth")
            ]
            * 1000,
            b.NOTE,
        ),
        "yes:",
    ),
    "five hundred verses": (
        b.notes(
            b.NOTE.replace(
                "</note>",
                "".join(f'<lyric number="{n}"><text>la</text></lyric>' for n in range(500))
                + "</note>",
            )
        ),
        "yes:",
    ),
    "a syllable of a megabyte": (
        b.notes(b.NOTE.replace("</note>", f"<lyric><text>{'la' * 500_000}</text></lyric></note>")),
        "yes:",
    ),
    "two thousand directions": (
        b.notes(
            "<direction><direction-type><words>x</words></direction-type></direction>" * 2_000,
            b.NOTE,
        ),
        "yes:",
    ),
    # -- pitch and key
    "the highest note there is": (
        b.notes(b.pitch("B", "9", "2")),
        "yes:Horn in F, bar 1 beat 1: G\\#6 \\(sounding C\\#6\\)",
    ),
    "the lowest note there is": (
        b.notes(b.pitch("C", "0", "-2")),
        "yes:Flute, bar 1 beat 1: Cbb4 is below the",
    ),
    "an eighth of a tone": (b.notes(b.pitch("C", "4", "0.25")), "yes:"),
    "a key of 99 sharps": (b.notes(b.NOTE, opening=opening(fifths="99")), "yes:"),
    "a key in letters": (
        b.notes(b.NOTE, opening=opening(fifths="G")),
        "yes:a key without readable fifths was left",
    ),
    "a transposition of a thousand semitones": (
        b.notes(
            b.NOTE,
            opening=b.OPENING.replace(
                "</attributes>", "<transpose><chromatic>1000</chromatic></transpose></attributes>"
            ),
        ),
        "no:Flute, bar 1: a note is to be written as",
    ),
    "a transposition in letters": (
        b.notes(
            b.NOTE,
            opening=b.OPENING.replace(
                "</attributes>", "<transpose><chromatic>up</chromatic></transpose></attributes>"
            ),
        ),
        "yes:a transposition is not in whole semitones",
    ),
    "a clef of no kind": (
        b.notes(b.NOTE, opening=opening(sign="H")),
        "yes:clef sign 'H' is not one of MusicXML's and",
    ),
    "a clef on line ninety": (b.notes(b.NOTE, opening=opening(line="90")), "yes:"),
    # -- what begins and ends
    "a hundred slurs that never end": (marked(*['<slur type="start" number="1"/>'] * 100), "yes:"),
    "slurs that end and never begin": (marked('<slur type="stop" number="7"/>'), "yes:"),
    "a slur of number 0": (marked('<slur type="start" number="0"/>'), "yes:"),
    "a tie to nowhere": (
        b.notes(b.NOTE.replace("<voice>", '<tie type="start"/><tie type="start"/><voice>')),
        "yes:",
    ),
    "a tie from nowhere": (b.notes(b.NOTE.replace("<voice>", '<tie type="stop"/><voice>')), "yes:"),
    "a hairpin that never ends": (direction('<wedge type="crescendo"/>'), "yes:"),
    "an octave line of 99": (direction('<octave-shift type="down" size="99"/>'), "yes:"),
    "a repeat of a thousand million times": (
        b.notes(
            b.NOTE,
            '<barline location="right"><repeat direction="backward" times="999999999"/></barline>',
        ),
        "yes:",
    ),
    "endings without a repeat": (
        b.notes(b.NOTE, '<barline location="left"><ending number="1,2,3" type="start"/></barline>'),
        "yes:",
    ),
    "an unknown notation": (marked("<zigzag/>"), "yes:zigzag"),
    "a tempo of nothing": (
        b.notes(
            "<direction><direction-type><words>x</words></direction-type>"
            '<sound tempo="0"/></direction>',
            b.NOTE,
        ),
        "yes:",
    ),
    "a tempo that is no number": (b.notes('<sound tempo="nan"/>', b.NOTE), "yes:"),
    "a metronome of minus one": (
        direction(
            "<metronome><beat-unit>quarter</beat-unit><per-minute>-1</per-minute></metronome>"
        ),
        "yes:",
    ),
    "a tempo beyond all numbers": (b.notes('<sound tempo="1e400"/>', b.NOTE), "yes:"),
    # -- chord symbols
    "a chord on H": (
        symbol("<root><root-step>H</root-step></root><kind>major</kind>"),
        "yes:<root\\-step> does not allow 'H', left",
    ),
    "a chord of no kind": (
        symbol("<root><root-step>C</root-step></root><kind>shiny</kind>"),
        "yes:<kind> does not allow 'shiny', read as",
    ),
    "a chord with a thousand degrees": (
        symbol(
            "<root><root-step>C</root-step></root><kind>major</kind>"
            + (
                "<degree><degree-value>9</degree-value><degree-alter>1</degree-alter>"
                "<degree-type>add</degree-type></degree>"
            )
            * 1000
        ),
        "yes:",
    ),
    "a chord altered by ninety": (
        symbol(
            "<root><root-step>C</root-step><root-alter>90</root-alter></root><kind>major</kind>"
        ),
        "yes:",
    ),
    # -- structure
    "a part twice": (
        GOOD.replace("</part>", f'</part><part id="P1">{b.bar(b.NOTE)}</part>').encode(),
        "yes:part 'P1' is not in the part",
    ),
    "a part id twice in the list": (
        GOOD.replace(
            "</part-list>", '<score-part id="P1"><part-name>B</part-name></score-part></part-list>'
        ).encode(),
        "yes:part 'B' has no bars; it was left",
    ),
    "a part without id": (
        GOOD.replace('<part id="P1">', "<part>").encode(),
        "yes:part '' is not in the part",
    ),
    "bars in bars": (
        b.notes(b.bar(b.NOTE), b.NOTE),
        "yes:<measure> has no place in MusicXML's measure",
    ),
    "notes outside bars": (GOOD.replace("<measure", b.NOTE + "<measure", 1).encode(), "yes:"),
    "only rests": (b.notes(REST), "yes:"),
    "bars with nothing in them": (b.score(b.bar("")).encode(), "yes:"),
    "only cues": (b.notes(b.NOTE.replace("<note>", "<note><cue/>")), "yes:"),
    "bar numbers that go backwards": (
        b.score(b.bar(b.NOTE, "9"), b.bar(b.NOTE, "-3", ""), b.bar(b.NOTE, "X", "")).encode(),
        "yes:",
    ),
    "a score by time with parts missing": (
        (
            f'<score-timewise version="4.0">{b.PART_LIST}<measure number="1"><part id="P2">'
            f"{b.OPENING}"
            f"{b.NOTE}</part></measure></score-timewise>"
        ).encode(),
        "yes:part 'P2' is not in the part",
    ),
}
