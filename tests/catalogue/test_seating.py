"""Names in rules: who is meant, with what in hand."""

import pytest

from expander.catalogue.ensembles import load_ensemble
from expander.catalogue.seating import UnknownName, known_names, seats

# line-up, name, players (with another instrument after a slash)
NAMES = [
    ("jazz-orchestra", "flute 1", "alto sax 1/flute"),
    ("jazz-orchestra", "clarinet 1", "alto sax 2/clarinet-bb"),
    ("jazz-orchestra", "flutes", "alto sax 1/flute, tenor sax 1/flute"),
    ("jazz-orchestra", "flute 2", "tenor sax 1/flute"),
    ("jazz-orchestra", "bass drum", "percussion/bass-drum"),
    ("jazz-orchestra", "double bass", "bass"),
    ("jazz-orchestra", "strings", "violins 1, violins 2, violas, cellos"),
    ("jazz-orchestra", "violins", "violins 1, violins 2"),
    ("jazz-orchestra", "Violins 1", "violins 1"),
    ("jazz-orchestra", "violin 1", "violins 1"),
    ("jazz-orchestra", "first violins", "violins 1"),
    ("jazz-orchestra", "2nd violins", "violins 2"),
    ("jazz-orchestra", "violin II", "violins 2"),
    ("jazz-orchestra", "voice", "voice"),
    ("jazz-orchestra", "rhythm section", "guitar, piano, bass, drums"),
    ("jazz-orchestra", "trumpet", "trumpet 1, trumpet 2, trumpet 3, trumpet 4"),
    ("jazz-orchestra", "flugelhorn 2", "trumpet 2/flugelhorn"),
    ("jazz-orchestra", "Pauken", "percussion/timpani"),
    ("jazz-orchestra", "english horn", "tenor sax 2/cor-anglais"),
    ("jazz-orchestra", "alto saxophone 2", "alto sax 2"),
    ("jazz-orchestra", "celesta", "piano/celesta"),
    ("jazz-orchestra", "drum set", "drums"),
    ("symphony-orchestra", "flutes", "flute 1, flute 2"),
    ("symphony-orchestra", "flute 3", "piccolo/flute"),
    ("symphony-orchestra", "piccolo", "piccolo"),
    ("symphony-orchestra", "flute family", "piccolo, flute 1, flute 2"),
    ("symphony-orchestra", "trombones", "trombone 1, trombone 2, bass trombone"),
    ("symphony-orchestra", "low brass", "trombone 1, trombone 2, bass trombone, tuba"),
    ("symphony-orchestra", "clarinets in A", "clarinet 1/clarinet-a, clarinet 2/clarinet-a"),
    ("symphony-orchestra", "upper strings", "violins 1, violins 2, violas"),
    ("symphony-orchestra", "low strings", "cellos, double basses"),
    ("symphony-orchestra", "cello", "cellos"),
    ("symphony-orchestra", "violoncellos", "cellos"),
    ("symphony-orchestra", "contrabass", "double basses"),
    ("symphony-orchestra", "percussion", "percussion 1, percussion 2, mallets"),
    ("symphony-orchestra", "Triangel", "percussion 1/triangle"),
    ("symphony-orchestra", "xylophone", "mallets/xylophone"),
    ("chamber-orchestra", "piccolo", "flute 2/piccolo"),
    ("chamber-orchestra", "bass clarinet", "clarinet 2/bass-clarinet"),
    ("chamber-orchestra", "horn 2", "horn 2"),
    ("string-quartet", "tutti", "violin 1, violin 2, viola, cello"),
    ("string-quartet", "Bratsche", "viola"),
    ("wind-band", "E♭ clarinet", "eb clarinet"),
    ("wind-band", "e flat clarinet", "eb clarinet"),
    ("wind-band", "saxophones", "alto sax 1, alto sax 2, tenor sax, baritone sax"),
    ("wind-band", "clarinets", "clarinet 1, clarinet 2, clarinet 3"),
    ("wind-band", "cornets", "trumpet 1/cornet, trumpet 2/cornet, trumpet 3/cornet"),
    ("satb-choir", "sopranos", "sopranos"),
    ("satb-choir", "soprano", "sopranos"),
    ("satb-choir", "voices", "sopranos, altos, tenors, basses"),
    ("big-band", "brass", "trumpet 1, trumpet 2, trumpet 3, trumpet 4, "
                          "trombone 1, trombone 2, trombone 3, bass trombone"),
    ("big-band", "low brass", "trombone 1, trombone 2, trombone 3, bass trombone"),
    ("septet", "winds", "flute, clarinet, horn"),
]  # fmt: skip


@pytest.mark.parametrize(("line_up", "name", "meant"), NAMES)
def test_a_name_means_these_players(line_up, name, meant):
    ensemble = load_ensemble(line_up)
    found = []
    for seat in seats(ensemble, name):
        player = ensemble.players[seat.player]
        other = "" if seat.instrument == player.instrument else f"/{seat.instrument.id}"
        found.append(player.name + other)
    assert ", ".join(found) == meant


@pytest.mark.parametrize(
    ("line_up", "name", "nearest"),
    [
        ("jazz-orchestra", "trombons", "trombones"),
        ("jazz-orchestra", "flute 3", "flute 2"),
        ("jazz-orchestra", "violins 3", "violins 2"),
        ("jazz-orchestra", "rythm section", "rhythm section"),
        ("string-quartet", "viollin 1", "violin 1"),
    ],
)
def test_an_unknown_name_is_answered_with_the_nearest(line_up, name, nearest):
    with pytest.raises(UnknownName) as caught:
        seats(load_ensemble(line_up), name)
    assert caught.value.nearest[0] == nearest
    assert f"'{name}'" in str(caught.value) and f"'{nearest}'" in str(caught.value)


@pytest.mark.parametrize("name", ["harp", "banjo", "trumpet 5", "strings", "", "1"])
def test_nobody_is_guessed(name):
    with pytest.raises(LookupError):
        seats(load_ensemble("big-band"), name)


def test_known_names_are_sorted_and_complete():
    ensemble = load_ensemble("septet")
    names = known_names(ensemble)
    assert list(names) == sorted({*ensemble.groups, *ensemble.doubling})
