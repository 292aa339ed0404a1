"""What is read from a file, one feature a test. Names with numbers are conformance files."""

from fractions import Fraction

import pytest

from expander.model.pitch import Drum, Transposition
from expander.model.score import Clef, Degree, Key, LayerId, Mark, Time, Value
from expander.musicxml import read, read_bytes
from tests.musicxml import broken as b
from tests.musicxml.corpus import CONFORMANCE

BY_NAME = {path.name: path for path in CONFORMANCE}
QUARTER = (
    "<note>{}<duration>1</duration><voice>{}</voice><type>quarter</type><staff>{}</staff></note>"
)
C4 = "<pitch><step>C</step><octave>4</octave></pitch>"
E4 = "<pitch><step>E</step><octave>4</octave></pitch>"
REST = "<rest/>"
BACK = "<backup><duration>{}</duration></backup>"
TWO_STAVES = b.OPENING.replace("<clef>", "<staves>2</staves><clef>")


def conformance(name):
    """A score of the conformance suite."""
    return read(BY_NAME[name])


def events(score, bar=0, layer=0, part=0):
    """The events of one bar of one layer."""
    return score.parts[part].bars[bar].layers[layer]


def changes(score, kind, bar=0, part=0):
    """(tick, staff, value) of the changes of a kind in a bar."""
    found = score.parts[part].bars[bar].changes
    return [(c.at, c.staff, c.what) for c in found if isinstance(c.what, kind)]


def quarter(what=C4, voice="1", staff="1"):
    """A quarter note or rest as text."""
    return QUARTER.format(what, voice, staff)


def one_bar(*contents, opening=b.OPENING):
    """The score of one bar with this content."""
    return read_bytes(b.notes(*contents, opening=opening), "test")


# Time ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("divisions", "durations", "grid"),
    [
        ("1", ["4"], 1),
        ("480", ["1920"], 1),
        ("480", ["240", "1680"], 2),
        ("768", ["256", "256", "256"], 3),
        ("840", ["120", "420"], 14),
        ("0.5", ["0.25", "1.75"], 2),
        ("1", ["0.125"], 8),
        ("3", ["1", "2", "9"], 3),
    ],
)
def test_the_grid_is_the_smallest_in_which_all_is_exact(divisions, durations, grid):
    note = "<note><rest/><duration>{}</duration></note>"
    opening = b.OPENING.replace(">1</div", f">{divisions}</div")
    score = one_bar(*[note.format(d) for d in durations], opening=opening)
    assert score.grid == grid
    lengths = [Fraction(event.duration, grid) for event in events(score)]
    assert lengths == [Fraction(d) / Fraction(divisions) for d in durations]


def test_notated_values_of_grace_notes_and_tuplets_are_exact_on_the_grid():
    grace = f"<note><grace/>{C4}<type>32nd</type></note>"
    assert one_bar(grace, b.NOTE).grid == 8
    triplet = (
        f"<note>{C4}<duration>4</duration><type>eighth</type><time-modification>"
        "<actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification></note>"
    )
    assert one_bar(triplet).grid == 3


def test_divisions_may_change_in_the_middle():
    score = conformance("03c-Rhythm-DivisionChange.xml")
    assert [Fraction(e.duration, score.grid) for e in events(score)] == [1, 1, 1, 1]


def test_a_pickup_and_its_complement_are_no_oddity():
    opening = b.OPENING
    third = b.NOTE.replace(">4</dur", ">3</dur")
    first = b.NOTE.replace(">4</dur", ">1</dur")
    score = read_bytes(
        b.score(
            b.bar(first, opening=opening), b.bar(b.NOTE, "2", ""), b.bar(third, "3", "")
        ).encode(),
        "test",
    )
    assert [(bar.start, bar.length, bar.nominal) for bar in score.bars] == [
        (0, 1, 4),
        (1, 4, 4),
        (5, 3, 4),
    ]
    assert score.warnings == ()


def test_a_bar_with_nothing_in_it_has_the_length_of_its_metre():
    assert one_bar().bars[0].length == 4


def test_timewise_and_partwise_files_are_the_same_score():
    part = b.bar(b.NOTE)
    timewise = (
        f'<score-timewise version="1.0">{b.PART_LIST}<measure number="1"><part id="P1">'
        f"{b.OPENING}{b.NOTE}</part></measure></score-timewise>"
    )
    assert read_bytes(timewise.encode(), "t") == read_bytes(b.score(part).encode(), "p")


# Layers ----------------------------------------------------------------------------------------


def test_a_voice_number_used_on_two_staves_at_once_is_two_layers():
    score = one_bar(quarter(), BACK.format(1), quarter(E4, "1", "2"), opening=TWO_STAVES)
    assert score.parts[0].layers == (LayerId(1, "1"), LayerId(2, "2"))
    assert [str(events(score, 0, n)[0].notes[0].pitch) for n in (0, 1)] == ["C4", "E4"]
    assert score.warnings == ()


def test_a_note_on_the_other_staff_stays_in_its_voice():
    score = one_bar(quarter(), quarter(), quarter(E4, "1", "2"), quarter(), opening=TWO_STAVES)
    assert score.parts[0].layers == (LayerId(1, "1"),)
    assert [e.notes[0].voice_staff for e in events(score)] == [0, 0, 2, 0]


def test_layers_go_down_the_staves_and_by_number():
    score = one_bar(
        quarter(C4, "5", "2"),
        BACK.format(1),
        quarter(C4, "10", "1"),
        BACK.format(1),
        quarter(C4, "2", "1"),
        opening=TWO_STAVES,
    )
    assert score.parts[0].layers == (LayerId(1, "2"), LayerId(1, "10"), LayerId(2, "5"))


def test_a_voice_over_itself_loses_nothing():
    score = one_bar(quarter(), quarter(), BACK.format(2), quarter(E4), quarter(E4))
    assert score.parts[0].layers == (LayerId(1, "1"), LayerId(1, "2"))
    assert [len(layer) for layer in score.parts[0].bars[0].layers] == [2, 2]


def test_notes_without_voice_and_staff_are_voice_1_on_staff_1():
    score = conformance("01c-Pitches-NoVoiceElement.xml")
    assert score.parts[0].layers == (LayerId(1, "1"),)


def test_a_gap_is_a_gap():
    score = one_bar("<forward><duration>3</duration></forward>", quarter())
    assert [e.at for e in events(score)] == [3]


# Notes -----------------------------------------------------------------------------------------


def test_quarter_tones_are_exact():
    score = conformance("01d-Pitches-Microtones.xml")
    alters = {n.pitch.alter for e in events(score) for n in e.notes}
    assert Fraction(1, 2) in alters


def test_a_pitch_under_an_octave_line_is_the_one_meant():
    score = conformance("33d-Spanners-OctaveShifts.xml")
    assert str(events(score)[0].notes[0].pitch) == "A4"
    assert max(n.pitch.octave for e in events(score) for n in e.notes) == 6


def test_grace_notes_last_no_time_and_stand_in_order():
    found = [(e.at, e.grace is not None) for e in events(conformance("24a-GraceNotes.xml"))]
    assert found[:2] == [(0, True), (0, False)]


def test_cautionary_and_editorial_accidentals_keep_their_look():
    score = conformance("01e-Pitches-EditorialCautionaryAccidentals.xml")
    looks = {n.accidental.attributes for e in events(score) for n in e.notes if n.accidental}
    assert {(), (("cautionary", "yes"),), (("editorial", "yes"),)} <= looks


def test_what_a_chord_repeats_on_each_note_is_kept_once():
    arpeggio = "<notations><arpeggiate/></notations></note>"
    first = quarter().replace("</note>", arpeggio)
    second = quarter(E4).replace("<note>", "<note><chord/>").replace("</note>", arpeggio)
    (event,) = events(one_bar(first, second))
    assert [m.name for m in event.marks] == ["arpeggiate"]
    assert [str(n.pitch) for n in event.notes] == ["C4", "E4"]


def test_ties_are_told_by_sound_or_by_notation():
    tied = quarter().replace("</note>", '<notations><tied type="start"/></notations></note>')
    sound = quarter().replace("<voice>", '<tie type="stop"/><voice>')
    first, second = events(one_bar(tied, sound))
    assert (first.notes[0].tie_start, first.notes[0].marks) == (True, ())
    assert second.notes[0].tie_stop


def test_tuplets_have_their_ratio():
    values = {e.value for e in events(conformance("23a-Tuplets.xml"))}
    assert Value("quarter", 0, 3, 2) in values


def test_whole_bar_rests_and_hidden_notes():
    rest = '<note print-object="no"><rest measure="yes"/><duration>4</duration></note>'
    (event,) = events(one_bar(rest))
    assert event.whole_bar and event.attributes == (("print-object", "no"),)


def test_cue_notes_are_told_from_others():
    (event,) = events(one_bar(quarter().replace("<note>", "<note><cue/>")))
    assert event.cue


def test_unpitched_notes_have_a_place_and_a_sound():
    score = conformance("73a-Percussion.xml")
    drums = [n.pitch for e in events(score, part=1) for n in e.notes]
    assert drums and all(isinstance(drum, Drum) for drum in drums)


def test_positions_on_the_page_are_left_out_and_colours_are_not():
    note = quarter().replace("<note>", '<note default-x="12.5" color="#FF0000">')
    slur = (
        '<notations><slur type="start" number="1" default-y="3" bezier-x="2"/></notations></note>'
    )
    (event,) = events(one_bar(note.replace("</note>", slur)))
    assert event.notes[0].attributes == (("color", "#FF0000"),)
    assert event.marks == (Mark("notations", "slur", (("type", "start"), ("number", "1"))),)


def test_verses_and_elisions():
    lyrics = (
        '<lyric number="1"><syllabic>single</syllabic><text>te</text><elision>‿</elision>'
        "<text>in</text></lyric>"
        '<lyric number="2"><syllabic>begin</syllabic><text>lan</text></lyric>'
    )
    (event,) = events(one_bar(quarter().replace("</note>", lyrics + "</note>")))
    assert [(x.verse, x.syllabic, x.text) for x in event.lyrics] == [
        ("1", "single", "te‿in"),
        ("2", "begin", "lan"),
    ]


# What stands over and under the notes ----------------------------------------------------------


def test_changes_inside_a_bar_have_their_tick():
    score = one_bar(
        quarter(),
        "<attributes><key><fifths>-3</fifths><mode>minor</mode></key>"
        "<clef><sign>F</sign><line>4</line></clef></attributes>",
        quarter(),
    )
    assert changes(score, Key)[1:] == [(1, 0, Key(-3, "minor"))]
    assert changes(score, Clef)[1:] == [(1, 0, Clef("F", 4))]


def test_keys_and_clefs_may_differ_by_staff():
    score = conformance("43b-MultiStaff-DifferentKeys.xml")
    assert {(staff, key.fifths) for _, staff, key in changes(score, Key)} == {(1, 0), (2, 2)}


def test_a_clef_without_a_number_is_the_first_staff_s():
    """MusicXML 4.0, clef: "A value of 1 is assumed if not present"; a key without is for all."""
    score = one_bar(
        "<attributes><staves>2</staves><key><fifths>1</fifths></key>"
        "<clef><sign>G</sign></clef>"
        '<clef number="2"><sign>F</sign><line>4</line></clef></attributes>',
        quarter(),
        "<attributes><clef><sign>C</sign><line>3</line></clef></attributes>",
        quarter(staff="2"),
    )
    found = [(staff, clef.sign) for _, staff, clef in changes(score, Clef)]
    assert found == [(1, "G"), (1, "G"), (2, "F"), (1, "C")]  # one stands before the bar's own
    assert {staff for _, staff, _ in changes(score, Key)} == {0}


def test_what_a_key_holds_besides_follows_it():
    opening = b.OPENING.replace("<fifths>0", "<cancel>2</cancel><fifths>0")
    found = [c.what for c in one_bar(b.NOTE, opening=opening).parts[0].bars[0].changes]
    assert found[:2] == [Key(0), Mark("attributes", "key", inner="<cancel>2</cancel>")]


def test_a_signature_outside_the_circle_of_fifths_is_carried():
    score = conformance("13c-KeySignatures-NonTraditional.xml")
    assert "<key-step>" in changes(score, Key)[0][2].own


@pytest.mark.parametrize(
    ("inner", "found"),
    [
        (
            "<diatonic>-1</diatonic><chromatic>-2</chromatic>",
            Transposition(-1, -2),
        ),
        ("<chromatic>-2</chromatic>", Transposition(-1, -2)),
        ("<chromatic>-9</chromatic>", Transposition(-5, -9)),
        ("<chromatic>3</chromatic>", Transposition(2, 3)),
        ("<chromatic>-14</chromatic>", Transposition(-8, -14)),
        (
            "<diatonic>0</diatonic><chromatic>0</chromatic><octave-change>-1</octave-change>",
            Transposition(0, 0, -1),
        ),
        ("<chromatic>0</chromatic><double/>", Transposition(0, 0, 0, "below")),
    ],
)
def test_transpositions_with_and_without_letter_steps(inner, found):
    opening = b.OPENING.replace("</attributes>", f"<transpose>{inner}</transpose></attributes>")
    assert changes(one_bar(b.NOTE, opening=opening), Transposition) == [(0, 0, found)]


@pytest.mark.parametrize(
    ("inner", "time", "nominal"),
    [
        ("<beats>3+2</beats><beat-type>8</beat-type>", Time((("3+2", "8"),)), Fraction(5, 2)),
        (
            "<beats>3</beats><beat-type>8</beat-type><beats>2</beats><beat-type>4</beat-type>",
            Time((("3", "8"), ("2", "4"))),
            Fraction(7, 2),
        ),
        ("<senza-misura/>", Time(()), 4),
    ],
)
def test_metres_of_several_parts(inner, time, nominal):
    opening = b.OPENING.replace("<beats>4</beats><beat-type>4</beat-type>", inner)
    score = one_bar(b.NOTE, opening=opening)
    assert score.bars[0].time == time
    assert Fraction(score.bars[0].nominal, score.grid) == nominal


def test_an_offset_moves_a_direction():
    direction = (
        "<direction placement='below'><direction-type><dynamics><mf/></dynamics></direction-type>"
        "<offset>2</offset><staff>1</staff></direction>"
    )
    (found,) = one_bar(direction, b.NOTE).parts[0].bars[0].directions
    assert (found.at, found.staff, found.placement) == (2, 1, "below")
    assert found.marks == (Mark("direction-type", "dynamics", text="mf", inner="<mf/>"),)


def test_a_sound_without_a_sign_is_carried():
    score = one_bar('<sound tempo="96"/>', b.NOTE)
    (carried,) = score.parts[0].bars[0].carried
    assert carried.mark == Mark("measure", "sound", (("tempo", "96"),))


def test_chord_symbols_by_their_content():
    harmony = (
        "<harmony><root><root-step>B</root-step><root-alter>-1</root-alter></root>"
        '<kind text="7">dominant</kind><inversion>1</inversion>'
        "<bass><bass-step>D</bass-step></bass>"
        "<degree><degree-value>9</degree-value><degree-alter>-1</degree-alter>"
        "<degree-type>add</degree-type></degree></harmony>"
    )
    (found,) = one_bar(harmony, b.NOTE).parts[0].bars[0].harmonies
    assert (found.root, found.kind, found.text) == ((6, -1), "dominant", "7")
    assert (found.inversion, found.bass) == (1, (1, 0))
    assert found.degrees == (Degree(9, -1, "add"),)


def test_several_roots_are_several_symbols():
    one = "<root><root-step>{}</root-step></root><kind>major</kind>"
    score = one_bar(f"<harmony>{one.format('G')}{one.format('C')}</harmony>", b.NOTE)
    assert [h.root for h in score.parts[0].bars[0].harmonies] == [(4, 0), (0, 0)]


@pytest.mark.parametrize(
    "content",
    [
        "<function>V</function><kind>major</kind>",
        "<root><root-step text=''>C</root-step></root><kind text='N.C.'>none</kind>",
    ],
)
def test_functions_and_no_chord_have_no_root(content):
    (found,) = one_bar(f"<harmony>{content}</harmony>", b.NOTE).parts[0].bars[0].harmonies
    assert found.root is None


def test_figures_last_a_time_on_our_grid():
    figure = (
        "<figured-bass><figure><figure-number>6</figure-number></figure>"
        "<duration>120</duration></figured-bass>"
    )
    half = "<note><rest/><duration>{}</duration></note>"
    opening = b.OPENING.replace(">1</div", ">480</div")
    score = one_bar(figure, half.format(240), half.format(1680), opening=opening)
    (carried,) = score.parts[0].bars[0].carried
    assert score.grid == 4
    assert "<duration>1</duration>" in carried.mark.inner


def test_repeats_endings_and_a_barline_in_the_middle():
    score = one_bar(
        '<barline location="left"><repeat direction="forward"/></barline>',
        quarter(),
        '<barline location="middle"><bar-style>dashed</bar-style></barline>',
        quarter(),
        '<barline><bar-style>light-heavy</bar-style><ending number="1" type="stop"/>'
        '<repeat direction="backward"/></barline>',
    )
    left, middle, right = score.parts[0].bars[0].barlines
    assert left.repeat is not None and left.repeat.get("direction") == "forward"
    assert (middle.location, middle.style, middle.at) == ("middle", "dashed", 1)
    assert right.repeat is not None and right.ending is not None
    assert (right.repeat.get("direction"), right.ending.get("number")) == ("backward", "1")


# The head --------------------------------------------------------------------------------------


def test_brackets_may_nest_and_overlap():
    nested = conformance("41d-StaffGroups-Nested.xml").brackets
    assert [(x.first, x.last, x.symbol) for x in nested] == [(1, 3, "line"), (2, 3, "bracket")]
    overlapping = conformance("41f-StaffGroups-Overlapping.xml").brackets
    assert any(
        one.first < other.first <= one.last < other.last
        for one in overlapping
        for other in overlapping
    )


def test_titles_people_and_rights():
    header = conformance("51b-Header-Quotes.xml").header
    assert header.movement_title == '"Quotes" in header fields'
    assert ("composer", 'Some "Tester" Name') in header.people
    assert len(conformance("51c-MultipleRights.xml").header.rights) > 1


def test_sounds_join_instrument_and_midi():
    sounds = (
        '<score-instrument id="I1"><instrument-name>Tin whistle</instrument-name>'
        "<instrument-sound>wind.flutes.whistle.tin</instrument-sound></score-instrument>"
        '<midi-instrument id="I1"><midi-channel>3</midi-channel><midi-program>79</midi-program>'
        "<volume>80</volume><pan>-45</pan></midi-instrument></score-part>"
    )
    part_list = b.PART_LIST.replace("</score-part>", sounds)
    (sound,) = read_bytes(b.score(b.bar(b.NOTE), part_list=part_list).encode(), "t").parts[0].sounds
    assert (sound.id, sound.name, sound.sound) == ("I1", "Tin whistle", "wind.flutes.whistle.tin")
    assert (sound.program, sound.channel, sound.volume, sound.pan) == (79, 3, "80", "-45")


def test_parts_come_in_the_order_of_the_list():
    listed = "".join(
        f'<score-part id="{i}"><part-name>{name}</part-name></score-part>'
        for i, name in (("P1", "Flute"), ("P2", "Bass"))
    )
    text = b.score(b.bar(b.NOTE), part_list=f"<part-list>{listed}</part-list>")
    text = text.replace('<part id="P1">', f'<part id="P2">{b.bar(b.NOTE)}</part><part id="P1">')
    assert [p.name for p in read_bytes(text.encode(), "t").parts] == ["Flute", "Bass"]
