"""What is written: valid whatever the document holds, the same bytes every time."""

import os
import subprocess
import sys
import zipfile

import pytest
from lxml import etree
from msgspec.structs import replace

from expander import __version__
from expander.errors import CannotWrite
from expander.model.pitch import Drum, Transposition, Written
from expander.model.score import (
    Bar,
    Barline,
    Bracket,
    Carried,
    Change,
    Clef,
    Direction,
    Event,
    Harmony,
    Header,
    Key,
    LayerId,
    Lyric,
    Mark,
    Note,
    Part,
    PartBar,
    Score,
    Sound,
    Time,
    Value,
)
from expander.musicxml import read, read_bytes, to_bytes, write
from expander.musicxml.notetext import NoteWriter
from tests.musicxml.corpus import CONFORMANCE, PIECES
from tests.schema import assert_valid, faults

QUARTER = Value("quarter")
C4 = Note(Written.named("C4"))


def event(at=0, duration=4, *notes, **more):
    """A quarter-grid event, middle C where nothing is said."""
    return Event(at, duration, notes or (C4,), QUARTER, **more)


def part(*bars, number=1, **more):
    """A part of one layer with these bars' events."""
    filled = tuple(x if isinstance(x, PartBar) else PartBar((x,)) for x in bars)
    given = {"staves": 1, "layers": (LayerId(1, "1"),), **more}
    return Part(f"P{number}", f"Part {number}", f"P. {number}", bars=filled, **given)


def score(*parts, **more):
    """A score of these parts, its bars of four quarters, a tick to the quarter."""
    count = len(parts[0].bars)
    bars = tuple(Bar(str(n + 1), 4 * n, 4, 4, Time()) for n in range(count))
    return Score(1, more.pop("header", Header()), bars, parts, **more)


def tree(document):
    """What is written, valid, as elements."""
    data = to_bytes(document)
    assert_valid(data)
    return etree.fromstring(data)


def names(element):
    """The children's names in order."""
    return [child.tag for child in element]


def test_a_note_with_everything_has_its_children_in_the_schemas_order():
    mark = Mark
    note = Note(
        Written.named("F#4"),
        tie_start=True,
        tie_stop=True,
        accidental=mark("note", "accidental", (("cautionary", "yes"),), "sharp"),
        head=mark("note", "notehead", (), "diamond"),
        marks=(
            mark("note", "play", inner="<mute>straight</mute>"),
            mark("technical", "fingering", text="2"),
            mark("note", "footnote", text="see preface"),
            mark("note", "instrument", (("id", "P1-I2"),)),
        ),
        voice_staff=2,
    )
    full = event(
        0,
        4,
        note,
        marks=(
            mark("articulations", "staccato"),
            mark("articulations", "accent"),
            mark("ornaments", "trill-mark"),
            mark("notations", "slur", (("type", "start"), ("number", "1"))),
            mark("notations", "level", text="editorial"),
        ),
        beams=(mark("note", "beam", (("number", "1"),), "begin"),),
        lyrics=(Lyric("1", "single", "la", mark("note", "lyric")),),
        stem="up",
    )
    sounds = (Sound("P1-I1", "Bow"), Sound("P1-I2", "Plucked", program=46, channel=1))
    root = tree(score(part((full,), staves=2, sounds=sounds)))
    first = "pitch duration tie tie instrument footnote voice type accidental stem notehead staff"
    rest = "beam notations lyric play"
    assert " ".join(names(root.find(".//note"))) == f"{first} {rest}"
    notations = "level tied tied technical articulations ornaments slur"
    assert " ".join(names(root.find(".//notations"))) == notations


@pytest.mark.parametrize(
    ("given", "children"),
    [
        (event(0, 0, grace=Mark("note", "grace")), "grace pitch voice type"),
        (
            event(0, 4, replace(C4, tie_start=True), cue=True),
            "cue pitch duration voice type notations",
        ),
        (Event(0, 4, whole_bar=True), "rest duration voice"),
        (Event(0, 4, (Note(Drum(0, -99)),)), "unpitched duration voice"),
        (event(0, 0, grace=Mark("note", "grace"), cue=True), "grace cue pitch voice type"),
    ],
)
def test_each_kind_of_note_is_valid(given, children):
    assert names(tree(score(part((given,)))).find(".//note")) == children.split()


def test_a_chord_shows_its_marks_once_and_its_arpeggio_on_every_head():
    chord = event(
        0,
        4,
        C4,
        Note(Written.named("E4")),
        marks=(Mark("notations", "arpeggiate"), Mark("articulations", "accent")),
    )
    first, second = tree(score(part((chord,)))).findall(".//note")
    assert names(first.find("notations")) == ["arpeggiate", "articulations"]
    assert names(second.find("notations")) == ["arpeggiate"]


def test_gaps_and_layers_move_the_cursor():
    bar = PartBar(((event(1, 1),), (event(2, 2), event(0, 1))[::-1]))
    layers = (LayerId(1, "1"), LayerId(1, "2"))
    document = score(part(bar, layers=layers))
    moves = [
        (child.tag, child.findtext("duration"))
        for child in tree(document).find(".//measure")
        if child.tag in ("forward", "backup")
    ]
    assert moves == [("forward", "1"), ("backup", "2"), ("forward", "1")]


def test_things_inside_notes_and_gaps_keep_their_place():
    words = Mark("direction-type", "words", text="dolce")
    bar = PartBar(
        ((event(0, 4),),),
        changes=(Change(2, Clef("F", 4)), Change(0, Key(1))),
        directions=(Direction(3, (words,)), Direction(1, (words,)), Direction(4, (words,))),
        harmonies=(Harmony(2, (1, 0), "minor"),),
        barlines=(Barline("middle", "dotted", at=3),),
        carried=(Carried(1, Mark("measure", "sound", (("tempo", "60"),))),),
    )
    document = score(part(bar))
    tree(document)
    again = read_bytes(to_bytes(document), "again").parts[0].bars[0]
    assert [c.at for c in again.changes] == [0, 2]
    assert [d.at for d in again.directions] == [1, 3, 4]
    assert [(h.at, h.root, h.kind) for h in again.harmonies] == [(2, (1, 0), "minor")]
    assert [(x.location, x.at) for x in again.barlines] == [("middle", 3)]
    assert [c.at for c in again.carried] == [1]


def test_an_empty_bar_keeps_its_length():
    document = score(part(()))
    assert tree(document).find(".//forward/duration").text == "4"
    assert read_bytes(to_bytes(document), "again").bars == document.bars


def test_a_moved_chord_symbol_keeps_its_look():
    text = (
        "<harmony print-frame='no'><root><root-step>C</root-step></root>"
        "<kind use-symbols='yes' text='maj7'>major-seventh</kind></harmony>"
    )
    mark = Mark("measure", "harmony", inner=text[text.index("<root>") : -len("</harmony>")])
    moved = Harmony(0, (1, -1), "major-seventh", "maj7", bass=(5, -1), mark=mark)
    root = tree(score(part(PartBar(((event(),),), harmonies=(moved,)))))
    found = root.find(".//harmony")
    assert (found.findtext("root/root-step"), found.findtext("root/root-alter")) == ("D", "-1")
    assert found.findtext("bass/bass-step") == "A"
    assert dict(found.find("kind").items()) == {"text": "maj7", "use-symbols": "yes"}


def test_no_chord_is_written_as_such():
    nothing = Harmony(0, None, "none", "N.C.")
    root = tree(score(part(PartBar(((event(),),), harmonies=(nothing,)))))
    assert root.find(".//kind").get("text") == "N.C."


@pytest.mark.parametrize("level", ["mf", "sfz", "n", "poco f"])
def test_dynamics_may_be_given_by_their_level_alone(level):
    loud = Direction(0, (Mark("direction-type", "dynamics", text=level),))
    root = tree(score(part(PartBar(((event(),),), directions=(loud,)))))
    sign = root.find(".//dynamics")[0]
    assert (sign.text or sign.tag) == level


def test_attributes_are_one_element_in_the_schemas_order():
    changes = (
        Change(0, Transposition(-1, -2)),
        Change(0, Clef("G", 2)),
        Change(0, Mark("attributes", "measure-style", inner="<multiple-rest>1</multiple-rest>")),
        Change(0, Time((("3", "4"),), "")),
        Change(0, Key(2, "major")),
    )
    root = tree(score(part(PartBar(((event(),),), changes=changes), staves=2)))
    assert names(root.find(".//attributes")) == (
        ["divisions", "key", "time", "staves", "clef", "transpose", "measure-style"]
    )


def test_nested_and_overlapping_brackets_have_numbers_of_their_own():
    parts = [part((event(),), number=n) for n in range(1, 5)]
    brackets = (
        Bracket(0, 3, "bracket"),
        Bracket(0, 1, "brace", number="1"),
        Bracket(1, 2, "square", number="1"),
    )
    document = score(*parts, brackets=brackets)
    root = tree(document)
    starts = [g.get("number") for g in root.iter("part-group") if g.get("type") == "start"]
    assert len(set(starts)) == 3
    again = read_bytes(to_bytes(document), "again").brackets
    assert [(x.first, x.last, x.symbol) for x in again] == [
        (x.first, x.last, x.symbol) for x in brackets
    ]


def test_ids_that_clash_or_are_no_ids_are_replaced():
    twins = [part((event(),), sounds=(Sound("1", "A"), Sound("P1", "B"))) for _ in range(2)]
    root = tree(score(*twins))
    ids = [e.get("id") for e in root.iter("score-part", "score-instrument")]
    assert len(set(ids)) == 6


def test_playback_of_sounds_that_are_not_there_is_left_out():
    change = Mark("direction", "sound", inner='<instrument-change id="X9"/>')
    words = Mark("direction-type", "words", text="to Piccolo")
    bar = PartBar(((event(),),), directions=(Direction(0, (words,), sound=change),))
    assert "X9" not in etree.tostring(tree(score(part(bar)))).decode()


def test_the_head_says_who_wrote_it_and_when_it_does_not():
    header = Header(
        work_title="A & B <1>",
        people=(("composer", "Nóra Ek"), ("", "anonymous")),
        rights=(("", "none"),),
        miscellaneous=(("version", "2"),),
        defaults="<scaling><millimeters>7</millimeters><tenths>40</tenths></scaling>",
        concert_pitch=True,
    )
    root = tree(score(part((event(),)), header=header))
    assert root.findtext("work/work-title") == "A & B <1>"
    assert root.findtext(".//software") == f"expander {__version__}"
    assert root.find(".//encoding-date") is None
    assert names(root.find("defaults")) == ["scaling", "concert-score"]
    supports = {s.get("element"): s.get("type") for s in root.iter("supports")}
    assert supports == {"accidental": "no", "beam": "no", "stem": "no", "print": "no"}


def test_letters_that_xml_cannot_hold_are_left_out():
    words = Mark("direction-type", "words", text="a\x00b\x0b\ud800<c>")
    bar = PartBar(((event(),),), directions=(Direction(0, (words,)),))
    assert tree(score(part(bar))).findtext(".//words") == "ab<c>"


@pytest.mark.parametrize("name", ["C10", "B-1"])
def test_a_pitch_outside_the_octaves_of_the_format_cannot_be_written(name):
    with pytest.raises(CannotWrite, match=f"written as {name}, outside MusicXML's octaves"):
        to_bytes(score(part((event(0, 4, Note(Written.named(name))),))))


def test_a_mark_that_musicxml_does_not_have_cannot_be_written():
    wrong = event(marks=(Mark("articulations", "wobble"),))
    with pytest.raises(CannotWrite, match="<wobble> has no place in MusicXML's articulations"):
        to_bytes(score(part((wrong,))))


def test_the_schema_check_itself_finds_faults():
    good = to_bytes(score(part((event(),))))
    assert faults(good) == []
    assert faults(good.replace(b"<duration>4</duration><voice>1</voice>", b"<voice>1</voice>"))


def test_players_who_share_a_line_share_its_text(monkeypatch):
    built = []
    plain = NoteWriter._event
    monkeypatch.setattr(NoteWriter, "_event", lambda *a: built.append(a) or plain(*a))
    line = (event(),)
    document = score(*[part(line, number=n) for n in range(1, 9)])
    assert to_bytes(document).count(b"<note>") == 8
    assert len(built) == 1


# Files -----------------------------------------------------------------------------------------


def test_a_compressed_score_is_as_the_container_specification_says(tmp_path):
    """Source: MusicXML 4.0, container reference, element `container`."""
    document = score(part((event(),)))
    target = tmp_path / "air.MXL"
    write(document, target)
    with zipfile.ZipFile(target) as archive:
        first, container, inside = archive.infolist()
        assert (first.filename, first.compress_type) == ("mimetype", zipfile.ZIP_STORED)
        assert archive.read(first) == b"application/vnd.recordare.musicxml"
        assert container.filename == "META-INF/container.xml"
        root = etree.fromstring(archive.read(container)).find(".//rootfile")
        assert root.get("full-path") == inside.filename
        assert archive.read(inside) == to_bytes(document)
    again = read(target)
    assert again == read_bytes(to_bytes(document), "plain")


@pytest.mark.parametrize("name", ["air.musicxml", "air.mxl"])
def test_the_same_document_gives_the_same_bytes(tmp_path, name):
    document = read(PIECES[0])
    first, second = tmp_path / name, tmp_path / f"b{name}"
    write(document, first)
    write(document, second)
    assert first.read_bytes() == second.read_bytes()
    assert [p.name for p in sorted(tmp_path.iterdir())] == [name, f"b{name}"]


def test_the_order_of_sets_does_not_show(tmp_path):
    names = (
        "41c-StaffGroups.xml",
        "73a-Percussion.xml",
        "43a-PianoStaff.xml",
        "71g-MultipleChordnames.xml",
    )
    paths = [str(p) for p in CONFORMANCE if p.name in names] + [str(PIECES[-1])]
    code = (
        "import sys, hashlib; from expander.musicxml import read, to_bytes\n"
        "scores = [read(p) for p in sys.argv[1:]]\n"
        "told = repr([s.warnings for s in scores]).encode()\n"
        "print(hashlib.sha256(b''.join(map(to_bytes, scores)) + told).hexdigest())"
    )
    found = {
        subprocess.run(
            [sys.executable, "-c", code, *paths],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            check=True,
            text=True,
        ).stdout
        for seed in ("0", "1", "77")
    }
    assert len(found) == 1


def test_a_file_that_cannot_be_written_leaves_the_old_one(tmp_path):
    document = score(part((event(0, 4, Note(Written.named("C10"))),)))
    target = tmp_path / "air.musicxml"
    target.write_bytes(b"old")
    with pytest.raises(CannotWrite):
        write(document, target)
    assert target.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [target]


def test_a_folder_that_is_not_there_is_named(tmp_path):
    with pytest.raises(CannotWrite, match="nothing was changed") as caught:
        write(score(part((event(),))), tmp_path / "none" / "air.mxl")
    assert "air.mxl" in str(caught.value.at)
