"""The random music and line-ups are what the other tests take them for."""

from __future__ import annotations

from hypothesis import Phase, find, given, settings

from tests.outside import our_pitches
from tests.strategies import PLAIN, documents, line_ups, sketches

UNSHRUNK = settings(phases=(Phase.generate,), max_examples=200)


@settings(max_examples=40)
@given(sketches())
def test_every_layer_of_a_sketch_fills_its_bar_without_gaps(score) -> None:
    for part in score.parts:
        for bar, here in zip(score.bars, part.bars, strict=True):
            for layer in here.layers:
                at = 0
                for event in layer:
                    assert event.at == at
                    at = event.end
                assert at == bar.length


@settings(max_examples=40)
@given(sketches())
def test_every_tie_of_a_sketch_is_answered_by_the_same_pitch(score) -> None:
    for part in score.parts:
        for layer in range(len(part.layers)):
            held: set[object] = set()
            for event in (e for b in part.bars for e in b.layers[layer] if not e.grace):
                assert {n.pitch for n in event.notes if n.tie_stop} == held
                held = {n.pitch for n in event.notes if n.tie_start}
            assert held == set()


@settings(max_examples=40)
@given(sketches())
def test_notes_are_numbered_without_gaps(score) -> None:
    events = [e for p in score.parts for b in p.bars for la in b.layers for e in la]
    numbers = {n.origin for e in events for n in e.notes}
    assert numbers == set(range(len(numbers)))


def test_music_with_everything_in_it_is_drawn() -> None:
    """Each trait can be found; `find` fails where it cannot."""
    for trait in (
        lambda e: len(e.notes) > 1,
        lambda e: bool(e.grace),
        lambda e: bool(e.lyrics),
        lambda e: any(n.tie_start for n in e.notes),
        lambda e: e.value is not None and e.value.actual == 3,
        lambda e: any(m.name == "slur" for m in e.marks),
    ):
        assert find(sketches(), lambda s, t=trait: any(map(t, _events(s))), settings=UNSHRUNK)


def _events(score):
    return [e for p in score.parts for b in p.bars for la in b.layers for e in la]


def test_sketches_shrink_to_one_bar_of_rest() -> None:
    smallest = find(documents(PLAIN), lambda s: len(s.parts) > 0)
    assert (len(smallest.parts), len(smallest.bars)) == (1, 1)
    assert our_pitches(smallest) == []


@settings(max_examples=40)
@given(line_ups())
def test_line_ups_have_every_player_on_one_stave(ensemble) -> None:
    seated = [player for stave in ensemble.staves for player in stave.players]
    assert sorted(seated) == list(range(len(ensemble.players)))
    assert ensemble.groups["tutti"] == tuple(range(len(ensemble.players)))
