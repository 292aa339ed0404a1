"""Which notes each voice of a built chord may have, by who will read it."""

from __future__ import annotations

import pytest

from expander.catalogue.ensembles import load_ensemble
from expander.catalogue.seating import seats
from expander.voicing.reach import Party, compass_of, reaches

BAND = load_ensemble("jazz-orchestra")


def party(*names, octave=0):
    found = [(seat, place) for place, name in enumerate(names) for seat in seats(BAND, name)]
    return Party(tuple(s for s, _ in found), tuple(p for _, p in found), octave)


def comfort(name):
    instrument = next(p.instrument for p in BAND.players if p.name == name)
    low, high = instrument.sounding(instrument.comfortable)
    return int(low.semitone), int(high.semitone)


# Who reads which voice: from the highest register down, as scores are laid out (common practice).
@pytest.mark.parametrize(
    ("names", "voices", "readers"),
    [
        (["saxophones"], 5, ["alto sax 1", "alto sax 2", "tenor sax 1", "tenor sax 2",
                             "baritone sax"]),
        (["trombones"], 4, ["trombone 1", "trombone 2", "trombone 3", "bass trombone"]),
        (["baritone sax", "altos"], 3, ["alto sax 1", "alto sax 2", "baritone sax"]),
        (["strings"], 4, ["violins 1", "violins 2", "violas", "cellos"]),
    ],
)  # fmt: skip
def test_each_voice_has_what_is_comfortable_for_its_reader(names, voices, readers):
    assert reaches([party(*names)], voices, BAND) == tuple(comfort(name) for name in readers)


def test_a_voice_that_two_groups_read_has_what_both_can_play():
    found = reaches([party("trumpets"), party("trombones")], 4, BAND)
    for (low, high), trombone in zip(found, ["trombone 1"] * 3 + ["bass trombone"], strict=True):
        assert low == comfort("trumpet 1")[0]
        assert high == comfort(trombone)[1]


def test_two_names_with_players_enough_have_the_whole_chord_each():
    together = reaches([party("trumpets", "trombones")], 4, BAND)
    assert together == reaches([party("trumpets"), party("trombones")], 4, BAND)


def test_groups_that_share_eight_voices_out_have_four_each():
    found = reaches([party("trumpets", "trombones")], 8, BAND)
    assert found[:4] == (comfort("trumpet 1"),) * 4
    assert found[4:] == (comfort("trombone 1"),) * 3 + (comfort("bass trombone"),)


def test_an_entry_an_octave_up_asks_for_the_chord_an_octave_lower():
    plain, moved = reaches([party("altos")], 2, BAND), reaches([party("altos", octave=1)], 2, BAND)
    assert moved == tuple((low - 12, high - 12) for low, high in plain)


def test_groups_without_a_common_register_leave_it_to_the_first():
    assert reaches([party("flute 1"), party("bass")], 1, BAND) == reaches(
        [party("flute 1")], 1, BAND
    )


def test_who_plays_chords_alone_has_the_whole_range_for_every_voice():
    assert reaches([party("piano")], 4, BAND) == (comfort("piano"),) * 4


def test_nobody_and_drums_say_nothing():
    assert reaches([], 4, BAND) == reaches([party("drums")], 4, BAND) == ()
    assert compass_of(()) is None


def test_the_compass_goes_from_the_lowest_to_the_highest():
    assert compass_of(((60, 72), (48, 65))) == (48, 72)
