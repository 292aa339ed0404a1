"""The sample song: expanded again with another sketch or other rules, after a hand has edited it.

Whatever the new score changed, the merged one must be the new one bar for bar but where the hand
was, and there the edited one.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

import pytest
from msgspec.structs import replace

from expander.merge import merge
from expander.merge.telling import summary
from expander.model.score import Change, Clef, Direction, Document, Mark, PartBar
from expander.musicxml import read_bytes, to_bytes
from tests import mini
from tests.merge.hands import Edit, bar_put_in, done
from tests.merge.song import again, by_music21, first
from tests.merge.test_properties import unpaired
from tests.merge.versions import through_a_file
from tests.schema import faults

BARLINE = re.compile(r" (?:\|\||:\||\|:|\|\.|\|)(?= |$)")

PUT_IN = 58
"""Before which bar the new sketch has one more."""

NEW: dict[str, Callable] = {
    "another note in the tune": lambda folder: again(
        folder, sketch=lambda s: done(s, [Edit("a note", 0, 24, 1)])
    ),
    "another chord": lambda folder: again(
        folder, sketch=lambda s: done(s, [Edit("a note", 2, 20, 0)])
    ),
    "a bar put in": lambda folder: again(folder, sketch=lambda s: bar_put_in(s, PUT_IN)),
    "another dynamic": lambda folder: again(
        folder,
        rules=(
            "{play: inner, by: trombones, mute: bucket, dynamic: p}",
            "{play: inner, by: trombones, mute: bucket, dynamic: mp}",
        ),
    ),
    "another player in the chorus": lambda folder: again(
        folder,
        rules=("by: [horns, violas], octave: -1", "by: [horns, violas, mallets], octave: -1"),
    ),
}


def part(score: Document, name: str) -> int:
    return [p.name for p in score.parts].index(name)


def bar_changed(
    score: Document, name: str, bar: int, change: Callable[[PartBar], PartBar]
) -> Document:
    index = part(score, name)
    bars = list(score.parts[index].bars)
    bars[bar] = change(bars[bar])
    parts = list(score.parts)
    parts[index] = replace(parts[index], bars=tuple(bars))
    return replace(score, parts=tuple(parts))


def dynamic_moved(bar: PartBar) -> PartBar:
    """Every dynamic of the bar a quarter later."""
    made = [replace(d, at=d.at + 6) if d.first("dynamics") else d for d in bar.directions]
    assert made != list(bar.directions)
    return replace(bar, directions=tuple(made))


def words_corrected(bar: PartBar) -> PartBar:
    def corrected(direction: Direction) -> Direction:
        marks = [
            replace(m, text="very simply") if m.name == "words" else m for m in direction.marks
        ]
        return replace(direction, marks=tuple(marks))

    return replace(bar, directions=tuple(corrected(d) for d in bar.directions))


def mute_removed(bar: PartBar) -> PartBar:
    kept = [d for d in bar.directions if not any("mute" in m.text for m in d.marks)]
    assert len(kept) == len(bar.directions) - 1
    return replace(bar, directions=tuple(kept))


def slur_made_longer(score: Document) -> Document:
    """The slur of the mallets that ends in bar 37 goes on to the end of bar 38."""

    def ends(bar: PartBar, event: int, kind: str | None) -> PartBar:
        layer = list(bar.layers[0])
        others = tuple(m for m in layer[event].marks if m.name != "slur")
        mark = Mark("notations", "slur", (("type", kind or ""), ("number", "1")))
        layer[event] = replace(layer[event], marks=(*others, *([mark] if kind else [])))
        return replace(bar, layers=(tuple(layer), *bar.layers[1:]))

    for bar, event, kind in ((37, 0, None), (38, 0, None), (38, 1, "stop")):
        score = bar_changed(score, "Mallets", bar, lambda b, e=event, k=kind: ends(b, e, k))
    return bar_changed(score, "Mallets", 39, lambda b: ends(b, 1, None))


def by_hand(score: Document) -> Document:
    """Ten edits of the kinds that arrangers make."""
    score = done(score, [
        Edit("a note", part(score, "Violoncello"), 30, 2),
        Edit("an accent", part(score, "Voice"), 10, 0),
        Edit("a trill", part(score, "Violin I"), 37, 1),
        Edit("a syllable", part(score, "Voice"), 45, 0),
    ])  # fmt: skip
    score = bar_changed(score, "Violoncello", 26, dynamic_moved)
    score = bar_changed(score, "Voice", 32, words_corrected)
    score = bar_changed(score, "Trombone 2", 9, mute_removed)
    score = slur_made_longer(score)
    clef = Change(0, Clef("C", 4))
    score = bar_changed(score, "Violoncello", 32, lambda b: replace(b, changes=(clef, *b.changes)))
    index = part(score, "Percussion")
    parts = list(score.parts)
    parts[index] = replace(parts[index], name="Percussion (one player)")
    return replace(score, parts=tuple(parts))


def bars_of(score: Document) -> dict[str, list[str]]:
    """Every part's bars in the mini-notation, numbers of slurs left out."""
    found: dict[str, list[str]] = {}
    for name, text in mini.rows(score, ()).items():
        plain = re.sub(r"([()])\d", r"\1", text.split(": ", 1)[1])
        found[name] = [bar for bar in BARLINE.split(plain) if bar.strip()]
    return found


def differing(one: dict[str, list[str]], other: dict[str, list[str]]) -> set[tuple[str, int]]:
    return {
        (name, index)
        for name, bars in one.items()
        for index, bar in enumerate(bars)
        if other[name][index] != bar
    }


EDITED_PLACES = {
    ("Violoncello", 30), ("Voice", 10), ("Violin I", 37), ("Voice", 45), ("Violoncello", 26),
    ("Voice", 32), ("Trombone 2", 9), ("Mallets", 37), ("Mallets", 38), ("Mallets", 39),
    ("Violoncello", 32),
}  # fmt: skip


BOTH = {("another dynamic", "Trombone 2", 9): " !mp C4:h;- C4:h;-"}
"""A bar in which the hand took out the mute and the new score has another dynamic."""


def renamed(bars: dict[str, list[str]]) -> dict[str, list[str]]:
    return {"Percussion" if k.startswith("Percussion") else k: v for k, v in bars.items()}


def test_the_hand_was_where_this_file_says() -> None:
    old, edited = bars_of(first()), renamed(bars_of(through_a_file(by_hand(first()))))
    assert differing(old, edited) == EDITED_PLACES


@pytest.fixture(scope="module")
def news(tmp_path_factory) -> dict[str, Document]:
    folder = tmp_path_factory.mktemp("again")
    return {what: make(folder) for what, make in NEW.items()}


@pytest.fixture(scope="module")
def saved(tmp_path_factory) -> Document:
    """The edited song as music21 saves it."""
    return by_music21(by_hand(first()), tmp_path_factory.mktemp("saved"))


@pytest.mark.parametrize("what", NEW)
def test_the_merged_song_is_the_new_one_but_where_the_hand_was(what, news) -> None:
    new, edited = news[what], through_a_file(by_hand(first()))
    result = merge(first(), new, edited)
    assert not result.conflicts and not result.remarks, summary(result)
    score = through_a_file(result.score)
    put_in = PUT_IN if what == "a bar put in" else 1000
    merged, again_, hand = (renamed(bars_of(s)) for s in (score, new, edited))
    places = {(name, bar + (bar >= put_in)) for name, bar in EDITED_PLACES}
    assert differing(merged, again_) == places
    for name, bar in places:
        stands = BOTH.get((what, name, bar), hand[name][bar - (bar > put_in)])
        assert merged[name][bar] == stands
    assert "Percussion (one player)" in [p.name for p in score.parts]
    assert_in_order(result.score)


@pytest.mark.parametrize("what", ["a bar put in", "another dynamic"])
def test_it_is_the_same_when_another_program_saved_the_edits(what, news, saved) -> None:
    result = merge(first(), news[what], saved)
    merged, hand = bars_of(through_a_file(result.score)), bars_of(saved)
    put_in = PUT_IN if what == "a bar put in" else 1000
    for name, bar in EDITED_PLACES:
        stands = BOTH.get((what, name, bar), hand[name][bar])
        assert merged[name][bar + (bar >= put_in)] == stands
    assert_in_order(result.score)


@pytest.mark.parametrize("cut", [False, True])
def test_a_bar_cut_or_put_in_by_hand_stays_so_under_a_new_note(cut, news) -> None:
    new = news["another note in the tune"]
    edited = through_a_file(without_bar(first(), 13) if cut else bar_put_in(first(), 13))
    score = through_a_file(merge(first(), new, edited).score)
    assert len(score.bars) == len(first().bars) + (-1 if cut else 1)
    merged, again_ = bars_of(score), bars_of(new)
    assert all(merged[n][40 + (-1 if cut else 1)] == again_[n][40] for n in merged)
    assert merged["Voice"][24 + (-1 if cut else 1)] == again_["Voice"][24]
    assert_in_order(score)


def without_bar(score: Document, at: int) -> Document:
    """The score without one bar; slurs over it are cut by hand too."""

    def cut(bars: Sequence) -> tuple:
        return tuple(b for i, b in enumerate(bars) if i != at)

    starts, start = [], 0
    for index, bar in enumerate(cut(score.bars)):
        starts.append(replace(bar, start=start, number=str(index)))
        start += bar.length
    parts = tuple(replace(p, bars=cut(p.bars)) for p in score.parts)
    return replace(score, bars=tuple(starts), parts=parts)


def assert_in_order(score: Document) -> None:
    """Valid, both ends of everything, the same bytes again, nothing odd for a reader."""
    data = to_bytes(score)
    assert faults(data) == []
    assert unpaired(data) == {}
    assert read_bytes(data, "score").warnings == ()
