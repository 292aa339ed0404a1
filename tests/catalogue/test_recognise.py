"""Parts of foreign scores. Names of instruments in four languages are common practice; they stand
in any dictionary of music. Names marked "met" stand in public scores read while testing."""

import pytest

from expander.catalogue.loader import CLEFS, instrument, instruments
from expander.catalogue.recognise import recognise
from expander.model.pitch import CONCERT, Transposition

# name, instrument ("" none), numbers, key in the name
NAMES = [
    ("Bb Clarinet 1", "clarinet-bb", (1,), "B♭"),
    ("B♭ Clarinet", "clarinet-bb", (), "B♭"),
    ("Clarinet in B♭ 1", "clarinet-bb", (1,), "B♭"),
    ("Clarinet in B-flat 2", "clarinet-bb", (2,), "B♭"),
    ("Clarinet\nin  A  2", "clarinet-a", (2,), "A"),
    ("Clarinet 2 in A", "clarinet-a", (2,), "A"),
    ("Klarinette in B", "clarinet-bb", (), "B♭"),
    ("2 Klarinetten in A", "clarinet-a", (1, 2), "A"),
    ("Clarinetto in Si♭", "clarinet-bb", (), "B♭"),
    ("Clarinetto II in La", "clarinet-a", (2,), "A"),
    ("Clarinette en la", "clarinet-a", (), "A"),
    ("Clarinette en si bémol", "clarinet-bb", (), "B♭"),
    ("Es-Klarinette", "clarinet-eb", (), "E♭"),
    ("Eb Clarinet", "clarinet-eb", (), "E♭"),
    ("Bassklarinette in B", "bass-clarinet", (), "B♭"),
    ("B. Cl.", "bass-clarinet", (), "B♭"),
    ("Horn in F", "horn", (), "F"),
    ("F Horn 2", "horn", (2,), "F"),
    ("Horn in F 1. 2.", "horn", (1, 2), "F"),
    ("Corno (F)", "horn", (), "F"),
    ("Corni 1.2 in F", "horn", (1, 2), "F"),
    ("Corno III in Mi♭", "horn", (3,), "E♭"),
    ("E Horn 1 (orig. E and A)", "horn", (1,), "E"),
    ("Bb Horn 2", "horn", (2,), "B♭"),  # met
    ("4 Hörner in F", "horn", (1, 2, 3, 4), "F"),
    ("Cor en fa", "horn", (), "F"),
    ("Cor anglais", "cor-anglais", (), ""),
    ("Corno inglese", "cor-anglais", (), ""),
    ("Englischhorn", "cor-anglais", (), ""),
    ("English Horn", "cor-anglais", (), ""),
    ("Pauken", "timpani", (), ""),
    ("Timpani in C.G.", "timpani", (), "C"),
    ("Timbales", "timpani", (), ""),
    ("2 Oboen", "oboe", (1, 2), ""),
    ("2. Oboe", "oboe", (2,), ""),
    ("Hautbois 1", "oboe", (1,), ""),
    ("Oboe d'amore", "oboe-damore", (), ""),
    ("Oboe d’amore", "oboe-damore", (), ""),
    ("Flauto piccolo", "piccolo", (), ""),
    ("Kleine Flöte", "piccolo", (), ""),
    ("Ottavino", "piccolo", (), ""),
    ("Grande Flûte", "flute", (), ""),
    ("Flûtes 1 et 2", "flute", (1, 2), ""),
    ("2 Flauti", "flute", (1, 2), ""),
    ("G Flute", "alto-flute", (), "G"),
    ("Flute/Piccolo", "flute", (), ""),
    ("Alto Sax 1 / Flute", "alto-sax", (1,), ""),
    ("Tenorsaxophon", "tenor-sax", (), ""),
    ("Bari Sax", "baritone-sax", (), ""),
    ("Fagotti", "bassoon", (), ""),
    ("Kontrafagott", "contrabassoon", (), ""),
    ("Trompete in C", "trumpet-c", (), "C"),
    ("Tromba in Si♭ 1", "trumpet-bb", (1,), "B♭"),
    ("Trumpet in B♭ 3", "trumpet-bb", (3,), "B♭"),
    ("Trumpet 1,2", "trumpet-bb", (1, 2), ""),  # met
    ("Flügelhorn", "flugelhorn", (), ""),
    ("Cornet à pistons", "cornet", (), ""),
    ("3 Trombones", "tenor-trombone", (1, 2, 3), ""),
    ("Bassposaune", "bass-trombone", (), ""),
    ("Basstuba", "tuba", (), ""),
    ("Euphonium (B.C.)", "euphonium", (), ""),
    ("Gran Cassa", "bass-drum", (), ""),
    ("Große Trommel", "bass-drum", (), ""),
    ("Caisse claire", "snare-drum", (), ""),
    ("Becken", "crash-cymbals", (), ""),
    ("Triangel", "triangle", (), ""),
    ("Campanelli", "glockenspiel", (), ""),
    ("Röhrenglocken", "tubular-bells", (), ""),
    ("Drumset", "drum-set", (), ""),
    ("Arpa", "harp", (), ""),
    ("Klavier", "piano", (), ""),
    ("Cembalo", "harpsichord", (), ""),
    ("Gitarre", "acoustic-guitar", (), ""),
    ("Violin II", "violin", (2,), ""),
    ("1st Violins", "violin", (1,), ""),
    ("Erste Violine", "violin", (1,), ""),
    ("Violino primo", "violin", (1,), ""),
    ("Violons I", "violin", (1,), ""),
    ("Solo Violin", "violin", (), ""),
    ("Bratschen", "viola", (), ""),
    ("Viole", "viola", (), ""),
    ("Violoncelli", "cello", (), ""),
    ("Kontrabaß", "double-bass", (), ""),
    ("Contrabbasso", "double-bass", (), ""),
    ("Contrebasses", "double-bass", (), ""),
    ("String Bass", "double-bass", (), ""),
    ("Bass Guitar", "electric-bass", (), ""),
    ("Soprano 2", "soprano", (2,), ""),
    ("Tenore", "tenor", (), ""),
    ("Alto", "alto", (), ""),
    ("Bass", "", (), ""),  # a voice, a double bass or a bass guitar
    ("Flügel", "", (), ""),  # a grand piano or a flugelhorn
    ("Continuo", "", (), ""),  # met
    ("Recorder 1", "", (), ""),  # met; not in the catalogue
    ("Oboe da caccia", "", (), ""),  # met
    ("Soprano\rOboe 1,2\rViolin1", "", (), ""),  # met
    ("MusicXML Part", "", (), ""),  # met
    ("Kazoo", "", (), ""),
    ("Melody", "", (), ""),
    ("Flute in D", "", (), ""),
    ("1", "", (), ""),
    ("", "", (), ""),
    ("()", "", (), ""),
    ("B♭", "", (), ""),
]


@pytest.mark.parametrize(("name", "ident", "numbers", "key"), NAMES)
def test_a_part_is_known_by_its_name(name, ident, numbers, key):
    found = recognise(name)
    if not ident:
        assert found is None
        return
    assert (found.instrument.id, found.numbers) == (ident, numbers)
    assert found.key == key


TRANSPOSED = [
    ("Clarinet", Transposition(-2, -3), "clarinet-a"),
    ("Clarinet 1", Transposition(-1, -2), "clarinet-bb"),
    ("Clarinet", Transposition(2, 3), "clarinet-eb"),
    ("Clarinet", CONCERT, "clarinet-bb"),  # a score at concert pitch
    ("Trumpet", CONCERT, "trumpet-c"),
    ("Trumpet", None, "trumpet-bb"),
    ("Alto", Transposition(-5, -9), "alto-sax"),
    ("Tenor", Transposition(-1, -2, -1), "tenor-sax"),
    ("B. Cl.", Transposition(-1, -2), "clarinet-bb"),
    ("B. Cl.", Transposition(-1, -2, -1), "bass-clarinet"),
    ("Flügel", Transposition(-1, -2), "flugelhorn"),
    ("Flügel", CONCERT, "piano"),
    ("Horn", Transposition(-1, -2, -1), "horn"),
]


@pytest.mark.parametrize(("name", "transposition", "ident"), TRANSPOSED)
def test_the_transposition_tells_sizes_apart(name, transposition, ident):
    assert recognise(name, transposition=transposition).instrument.id == ident


SOUNDS = [
    ("", "", "strings.viola", 0, "viola"),
    ("Melody", "", "wind.flutes.flute", 0, "flute"),
    ("Solo", "", "brass.trumpet", 0, "trumpet-bb"),
    ("", "Vla.", "", 0, "viola"),
    ("Melody", "Fl. 1", "", 0, "flute"),
    ("Alto", "", "strings.viola", 0, "viola"),
    ("Alto", "", "voice.alto", 0, "alto"),
    ("Bass", "", "voice.bass", 0, "bass"),
    ("Bass", "", "strings.contrabass", 0, "double-bass"),
    ("Bass", "", "", 34, "electric-bass"),
    ("Bass", "", "", 44, "double-bass"),
    ("Bass", "", "", 53, "bass"),
    ("Baritone", "", "", 68, "baritone-sax"),
    ("Flügel", "", "keyboard.piano", 0, "piano"),
    ("", "", "keyboard.piano", 1, "piano"),
    ("Whatever", "", "keyboard.piano", 1, ""),  # the sound of staves nobody chose one for
    ("Whatever", "", "wind.flutes.dizi", 0, ""),
    ("Whatever", "", "", 74, ""),  # a program alone is no evidence
]


@pytest.mark.parametrize(("name", "short", "sound", "program", "ident"), SOUNDS)
def test_sound_program_and_abbreviation_help_where_the_name_does_not(
    name, short, sound, program, ident
):
    found = recognise(name, short, sound, program=program)
    assert (found.instrument.id if found else "") == ident


SUNG = [
    ("Oboe", "", "", "treble", "mezzo-soprano"),
    ("Oboe", "", "", "treble 8vb", "tenor"),
    ("Melody", "", "", "bass", "baritone"),
    ("Voice", "", "", "treble", "mezzo-soprano"),
    ("Singstimme", "", "", "treble", "mezzo-soprano"),
    ("Bass", "", "", "bass", "bass"),
    ("B.", "", "", "bass", "bass"),
    ("T.", "", "", "treble 8vb", "tenor"),
    ("", "A.", "", "treble", "alto"),
    ("Sopran", "", "", "treble", "soprano"),
    ("Alt", "", "", "treble", "alto"),
    ("", "", "voice.soprano", "treble", "soprano"),
    ("Piano", "", "", "treble", "piano"),
    ("Guitar", "", "", "treble", "acoustic-guitar"),
]


@pytest.mark.parametrize(("name", "short", "sound", "clef", "ident"), SUNG)
def test_a_sung_line_is_known_by_its_words(name, short, sound, clef, ident):
    found = recognise(name, short, sound, has_words=True, clef=CLEFS[clef])
    assert found.instrument.id == ident


@pytest.mark.parametrize("one", instruments(), ids=lambda one: one.id)
def test_every_instrument_is_recognised_by_the_names_we_print_ourselves(one):
    key = f" in {one.key}" if one.key else ""
    evidence = {"sound": one.sound, "transposition": one.transposition, "program": one.program}
    for name in (f"{one.name}{key}", f"{one.name}{key} 2", f"{one.plural}{key} 1. 2."):
        assert recognise(name, **evidence).instrument == one
    assert recognise("", one.short, **evidence).instrument == one


@pytest.mark.parametrize("one", instruments(), ids=lambda one: one.id)
def test_no_alias_leads_to_another_instrument(one):
    for alias in one.aliases:
        found = recognise(alias, sound=one.sound, transposition=one.transposition)
        assert found is not None and found.instrument.name == one.name, alias


def test_the_parts_of_our_own_line_ups_are_recognised():
    from expander.catalogue.ensembles import load_ensemble, shipped_ensembles

    own_names = {"Guitar", "Mallets", "Percussion", "Percussion 1", "Percussion 2", "Bass", "Drums"}
    for name in shipped_ensembles():
        ensemble = load_ensemble(name)
        for stave in ensemble.staves:
            one = ensemble.players[stave.players[0]].instrument
            found = recognise(stave.label, stave.short, one.sound, one.transposition, one.program)
            assert found is not None, stave.label
            if stave.label not in own_names:
                assert found.instrument == one


def test_a_horn_of_another_key_is_still_the_horn():
    found = recognise("Corno in Mi♭", transposition=Transposition(-5, -9))
    assert found.instrument == instrument("horn")
    assert found.key == "E♭"
