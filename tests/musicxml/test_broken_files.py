"""Broken, odd and hostile files: what happens to each, one row a case."""

import zipfile

import pytest

from expander.errors import BadMusic
from expander.musicxml import read, read_bytes, to_bytes
from tests.musicxml import broken as b
from tests.schema import assert_valid

GOOD = b.score(b.bar(b.NOTE))
DOCTYPE = '<!DOCTYPE score-partwise {} "http://nowhere.invalid/dtds/partwise.dtd">'
DECLARED = '<?xml version="1.0" encoding="{}"?>'


def doctype(number):
    """The document type of a MusicXML version, at an address that does not exist."""
    return DOCTYPE.format(f'PUBLIC "-//Recordare//DTD MusicXML {number} Partwise//EN"')


def with_title(title, encoding, declared=None):
    """A score with a title in an encoding, which it may declare."""
    top = DECLARED.format(declared) if declared else ""
    return b.score(b.bar(b.NOTE), top=top, head=f"<movement-title>{title}</movement-title>").encode(
        encoding
    )


GOOD_FILES = {
    "plain XML": GOOD.encode(),
    "compressed": b.mxl(GOOD),
    "compressed, with a mimetype entry": b.zipped(
        ("mimetype", "application/vnd.recordare.musicxml"),
        ("META-INF/container.xml", b.CONTAINER.format("a/b.xml")),
        ("a/b.xml", GOOD),
    ),
    "comments and instructions everywhere": GOOD.replace(
        "<note>", "<!-- a --><?b c?><note><!-- d -->"
    ).encode(),
    "comments between bars": GOOD.replace("<measure", "<!-- bar --><measure").encode(),
    "a namespace of its own": GOOD.replace(
        "<score-partwise", '<score-partwise xmlns="x:y"'
    ).encode(),
    **{
        f"document type {n}": (doctype(n) + GOOD).encode()
        for n in ("1.0", "1.1", "2.0", "3.1", "4.0")
    },
    "document type by system only": (DOCTYPE.format("SYSTEM") + GOOD).encode(),
    "UTF-16 little-endian": with_title("Für", "utf-16"),
    "UTF-16 big-endian": b"\xfe\xff" + with_title("Für", "utf-16-be", "UTF-16"),
    "Latin-1 declared": with_title("Für", "latin-1", "ISO-8859-1"),
    "UTF-8 with a mark": with_title("Für", "utf-8-sig"),
}


@pytest.mark.parametrize("name", GOOD_FILES)
def test_a_good_file_is_read_without_a_word(name):
    score = read_bytes(GOOD_FILES[name], "air.musicxml")
    assert score.warnings == ()
    assert score.header.movement_title in ("", "Für")
    assert [str(n.pitch) for n in score.parts[0].bars[0].layers[0][0].notes] == ["C4"]


REFUSED = {
    "an empty file": (b"", "empty"),
    "blanks only": (b" \n ", "empty"),
    "not XML": (b"X:1\nT:Air\nK:C\nCDEF|", "not well-formed"),
    "cut short": (GOOD.encode()[:-40], "not well-formed"),
    "a web page": (b"<html><body/></html>", "<html>"),
    "an opus": (b"<opus/>", "<opus>"),
    "a stray letter sign": (GOOD.replace("Air", "A & B").encode(), "not well-formed"),
    "gzip": (b"\x1f\x8b\x08\x00abc", "gzip"),
    "no part": (
        f'<score-partwise version="4.0">{b.PART_LIST}</score-partwise>'.encode(),
        "no part",
    ),
    "a part without bars": (b.score().encode(), "no part with bars"),
    "entities that multiply": (b.entities().encode(), "entity"),
    "entities that multiply in an attribute": (
        b.entities_in_attribute().encode(),
        "entity|well-formed",
    ),
    "an entity that reads a file": (
        b.score(
            b.bar(b.NOTE),
            top='<!DOCTYPE score-partwise [<!ENTITY x SYSTEM "file:///etc/hostname">]>',
            head="<movement-title>&x;</movement-title>",
        ).encode(),
        "entity of its own, &x;",
    ),
    "an entity of the document type": (
        b.score(
            b.bar(b.NOTE), top=doctype("2.0"), head="<movement-title>&mdash;</movement-title>"
        ).encode(),
        "&mdash;",
    ),
    "a parameter entity from the network": (
        b.score(
            b.bar(b.NOTE),
            top='<!DOCTYPE score-partwise [<!ENTITY % p SYSTEM "http://nowhere.invalid/x"> %p;]>',
        ).encode(),
        "entity|well-formed",
    ),
    "nested too deep": (
        GOOD.replace(b.NOTE, "<x>" * 3000 + "</x>" * 3000).encode(),
        "not well-formed.*depth",
    ),
    "a step H": (b.notes(b.pitch("H")), "step 'H'"),
    "an octave 12": (b.notes(b.pitch(octave="12")), "octave '12'"),
    "half an octave": (b.notes(b.pitch(octave="4.5")), "octave '4.5'"),
    "an alter of 40": (b.notes(b.pitch(alter="40")), "alter '40'"),
    "an alter in letters": (b.notes(b.pitch(alter="sharp")), "alter 'sharp'"),
    "a number beyond all numbers": (b.notes(b.pitch(octave="1e99999999")), "octave '1e99999999'"),
    "a pitch with nothing in it": (
        b.notes("<note><pitch/><duration>4</duration></note>"),
        "nothing given",
    ),
    "a zip cut short": (b.mxl(GOOD)[:-60], "damaged or cut short"),
    "a zip with spoilt content": (
        b.mxl(GOOD)[:180] + b"\xff" * 40 + b.mxl(GOOD)[220:],
        "damaged or cut short",
    ),
    "a zip packed in another way": (
        b.zipped(("a.xml", GOOD), method=zipfile.ZIP_BZIP2),
        "in a way MusicXML does not use",
    ),
    "a zip with a name that is no name": (
        b.mxl(GOOD, "café.xml").replace("café".encode(), b"caf\xff\xfe"),
        "damaged or cut short",
    ),
    "an encrypted zip": (b.encrypted(), "encrypted"),
    "an empty zip": (b.zipped(), "does not name a score"),
    "a zip without a score": (b.zipped(("a.txt", "x")), "scores found in it: none"),
    "a zip with two scores and no container": (
        b.zipped(("a.xml", GOOD), ("b.xml", GOOD)),
        "'a.xml', 'b.xml'",
    ),
    "a container that points outside": (
        b.zipped(
            ("META-INF/container.xml", b.CONTAINER.format("../../etc/passwd")),
            ("a.xml", GOOD),
            ("b.xml", GOOD),
        ),
        r"'\.\./\.\./etc/passwd', which is not in the file",
    ),
    "a container that points at this disk": (
        b.zipped(("META-INF/container.xml", b.CONTAINER.format("/etc/hostname"))),
        "'/etc/hostname', which is not in the file",
    ),
    "a zip that unpacks to far too much": (
        b.mxl(GOOD.replace("<note>", " " * 30_000_000 + "<note>")),
        "unpacks to more than a score can be",
    ),
    "a zip of very many files": (
        b.zipped(*[(f"{n}.xml", "") for n in range(2100)]),
        "holds 2100 files",
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_file_that_makes_no_sense_is_refused_with_place_and_advice(name):
    data, fault = REFUSED[name]
    with pytest.raises(BadMusic, match=fault) as caught:
        read_bytes(data, "air.mxl")
    assert str(caught.value.at).startswith("air.mxl")
    assert caught.value.hint


@pytest.mark.parametrize(
    ("data", "line"),
    [
        (b.notes(b.NOTE, b.NOTE, b.pitch("H")), 4),
        (GOOD.replace("</part>", "</parts>").encode(), 3),
    ],
)
def test_a_refusal_names_the_line(data, line):
    with pytest.raises(BadMusic) as caught:
        read_bytes(data, "air.xml")
    assert caught.value.at.line == line


ATTRIBUTES = b.OPENING.replace("<divisions>1</divisions>", "{}")

ODD = {
    "Latin-1 without a word": (with_title("Für", "latin-1"), "not in the encoding it names"),
    "UTF-8 that says UTF-16": (
        with_title("Für", "utf-8", "UTF-16"),
        "not in the encoding it names",
    ),
    "a container that is not XML": (b.mxl(GOOD, container="<container><rootfi"), "the only score"),
    "a container with a stray sign": (
        b.mxl(GOOD, "A & B.xml"),
        "the only score|^$",
    ),
    "a container that names nothing": (
        b.mxl(GOOD, container="<container/>"),
        "does not name a score",
    ),
    "a container that names a missing file": (
        b.mxl(GOOD, container=b.CONTAINER.format("x.xml")),
        "'x.xml', which is not in the file",
    ),
    "a zip without a container": (b.zipped(("deep/score.musicxml", GOOD)), "the only score"),
    "no divisions": (b.notes(b.NOTE, opening=ATTRIBUTES.format("")), "no <divisions>"),
    "divisions of nothing": (
        b.notes(b.NOTE, opening=ATTRIBUTES.format("<divisions>0</divisions>")),
        "<divisions> of '0'",
    ),
    "no duration": (
        b.notes(b.NOTE.replace("<duration>4</duration>", "")),
        "duration is None; its type",
    ),
    "a negative duration": (
        b.notes(b.NOTE.replace(">4</dur", ">-4</dur")),
        "duration is '-4'; its type",
    ),
    "a duration in letters": (b.notes(b.NOTE.replace(">4</dur", ">four</dur")), "'four'"),
    "a note that lasts no time": (
        b.notes(b.NOTE, b.NOTE.replace(">4</dur", ">0</dur")),
        "lasts no time was read as a grace note",
    ),
    "a rest that lasts no time": (
        b.notes(b.NOTE, "<note><rest/><duration>0</duration></note>"),
        "lasts no time was left out",
    ),
    "a note with neither pitch nor rest": (
        b.notes(b.NOTE, "<note><duration>4</duration></note>"),
        "neither pitch nor rest",
    ),
    "back before the bar": (
        b.notes(b.NOTE, "<backup><duration>9</duration></backup>"),
        "before the bar's start",
    ),
    "a backup without duration": (
        b.notes(b.NOTE, "<backup/>"),
        "<backup> without a usable duration",
    ),
    "a forward in letters": (
        b.notes(b.NOTE, "<forward><duration>x</duration></forward>"),
        "<forward> without a usable duration",
    ),
    "a chord that has no first note": (
        b.notes(b.NOTE.replace("<note>", "<note><chord/>")),
        "without a first note",
    ),
    "a chord note after a rest": (
        b.notes(
            "<note><rest/><duration>4</duration></note>", b.NOTE.replace("<note>", "<note><chord/>")
        ),
        "without a first note",
    ),
    "a chord of two durations": (
        b.notes(b.NOTE, b.NOTE.replace("<note>", "<note><chord/>").replace(">4</dur", ">2</dur")),
        "differ in duration",
    ),
    "a voice over itself": (
        b.notes(b.NOTE, "<backup><duration>4</duration></backup>", b.NOTE),
        "voice 1 overlaps itself",
    ),
    "an unknown note type": (b.notes(b.NOTE.replace("whole", "semibreve")), "'semibreve'"),
    "a stem sideways": (
        b.notes(b.NOTE.replace("</type>", "</type><stem>left</stem>")),
        "stem 'left'",
    ),
    "an empty beat unit": (
        b.notes(
            "<direction><direction-type><metronome><beat-unit/><per-minute>96</per-minute>"
            "</metronome></direction-type></direction>",
            b.NOTE,
        ),
        "<beat-unit> does not allow ''",
    ),
    "ending 0, 1, 5": (
        b.notes(
            b.NOTE, '<barline location="right"><ending number="0, 1, 5" type="stop"/></barline>'
        ),
        "read as '1, 5'",
    ),
    "attributes the schema does not know": (
        b.notes(
            b.NOTE.replace(
                "</note>", '<notations><slur type="start" swing="9"/></notations></note>'
            )
        ),
        "attribute swing of <slur> is not known",
    ),
    "an element the schema does not know": (b.notes("<swirl/>", b.NOTE), "<swirl> is not known"),
    "an element in the wrong place": (
        b.notes(
            b.NOTE.replace(
                "</note>", "<notations><articulations><fermata/></articulations></notations></note>"
            )
        ),
        "<fermata> has no place",
    ),
    "MIDI program 0": (
        b.score(b.bar(b.NOTE), part_list=b.PART_LIST.replace("</score-part>", b.SOUND)).encode(),
        "midi-program '0'",
    ),
    "two bars of one number": (
        b.score(b.bar(b.NOTE), b.bar(b.NOTE, opening="")).encode(),
        "bar number 1 comes twice",
    ),
    "a bar too long": (b.notes(b.NOTE, b.NOTE), "longer than its metre: 8 quarters instead of 4"),
    "a bar too short": (
        b.score(
            b.bar(b.NOTE),
            b.bar(b.NOTE.replace(">4</dur", ">3</dur").replace("whole", "half"), "2", opening=""),
        ).encode(),
        "shorter than its metre: 3 quarters",
    ),
    "a bar without a number": (GOOD.replace(' number="1"', "").encode(), "without a number"),
    "a part that is not in the list": (
        GOOD.replace('<part id="P1">', '<part id="P7">').encode(),
        "'P7' is not in the part list",
    ),
    "no part list": (b.score(b.bar(b.NOTE), part_list="").encode(), "'P1' is not in the part list"),
    "a listed part without bars": (
        b.score(
            b.bar(b.NOTE),
            part_list=b.PART_LIST.replace(
                "</part-list>",
                '<score-part id="P2"><part-name>Bass</part-name></score-part></part-list>',
            ),
        ).encode(),
        "'Bass' has no bars",
    ),
    "parts of unequal length": (
        GOOD.replace(
            "</part>",
            f'</part><part id="P2">{b.bar(b.NOTE)}{b.bar(b.NOTE, "2", "")}</part>',
        ).encode(),
        "has 1 bars of 2",
    ),
    "part groups that cross and never stop": (
        b.score(b.bar(b.NOTE), part_list=b.PART_LIST.replace("<part-list>", b.GROUPS)).encode(),
        "never stops",
    ),
    "ids that XML does not allow": (
        GOOD.replace('"P1"', '"1 part"').encode(),
        "",
    ),
}


@pytest.mark.parametrize("name", ODD)
def test_an_odd_file_is_read_with_a_warning_and_written_well(name):
    data, warning = ODD[name]
    score = read_bytes(data, "air.xml")
    told = [w.message for w in score.warnings]
    assert_warned(told, warning)
    written = to_bytes(score)
    assert_valid(written)
    assert read_bytes(written, "again") == score


def assert_warned(told, warning):
    """Something told matches; "" asks for nothing, "x|^$" allows nothing to be told."""
    if warning == "" or (warning.endswith("|^$") and not told):
        return
    wanted = warning.removesuffix("|^$")
    assert any(wanted in message for message in told), told


def test_absurd_divisions_are_rounded_and_each_bar_says_so():
    opening = ATTRIBUTES.format("<divisions>9999999.7</divisions>")
    note = b.NOTE.replace(">4</dur", ">39999999.9</dur")
    score = read_bytes(b.score(b.bar(note, opening=opening), b.bar(note, "2", "")).encode(), "air")
    assert (score.grid, [bar.length for bar in score.bars]) == (1, [4, 4])
    told = [(w.bar, w.message) for w in score.warnings]
    assert [bar for bar, message in told if message == "times in this bar were rounded"] == [
        "1",
        "2",
    ]
    assert any("more finely" in message for _, message in told)
    assert_valid(to_bytes(score))


def test_what_is_odd_has_its_line():
    data = b.notes(b.NOTE, "<backup><duration>9</duration></backup>")
    (warning,) = read_bytes(data, "air.xml").warnings
    assert (warning.line, warning.part, warning.bar) == (3, "Air", "1")


def test_a_file_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(BadMusic, match="cannot be opened"):
        read(tmp_path / "none.xml")


def test_a_folder_is_refused(tmp_path):
    with pytest.raises(BadMusic, match="cannot be opened"):
        read(tmp_path)


def test_the_ending_of_a_name_does_not_matter(tmp_path):
    plain, packed = tmp_path / "plain.mxl", tmp_path / "packed.xml"
    plain.write_text(GOOD, encoding="utf-8")
    packed.write_bytes(b.mxl(GOOD))
    assert read(plain) == read(packed)


def test_nothing_of_a_zip_reaches_the_disk(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    data = b.zipped(
        ("META-INF/container.xml", b.CONTAINER.format("../evil.xml")), ("../evil.xml", GOOD)
    )
    assert read_bytes(data, "air.mxl").warnings == ()
    assert list(tmp_path.iterdir()) == []
    assert not (tmp_path.parent / "evil.xml").exists()


def test_the_size_a_zip_claims_is_not_believed():
    data = bytearray(b.mxl(GOOD.replace("<note>", " " * 30_000_000 + "<note>")))
    with zipfile.ZipFile(b.io.BytesIO(bytes(data))) as archive:
        real = archive.getinfo("score.xml").file_size
    place = data.rfind(real.to_bytes(4, "little"))
    data[place : place + 4] = (100).to_bytes(4, "little")
    with pytest.raises(BadMusic, match=r"unpacks to more|damaged"):
        read_bytes(bytes(data), "air.mxl")
