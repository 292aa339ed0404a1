"""Checks that compare the score with the ledger of the expansion."""

from __future__ import annotations

from msgspec.structs import replace

from expander.checks import run
from expander.model.finding import Ledger, LostNote
from expander.model.score import Document, Event
from tests.mini import document

LOST = LostNote(staff=1, layer=1, bar="2", beat=3.0, pitch="E4", reason="nobody was left")


def with_origins(score: Document, numbers: list[int]) -> Document:
    """The score with these origin numbers given to its notes in order."""
    waiting = iter(numbers)

    def event(one: Event) -> Event:
        return replace(one, notes=tuple(replace(n, origin=next(waiting)) for n in one.notes))

    parts = tuple(
        replace(
            part,
            bars=tuple(
                replace(bar, layers=tuple(tuple(map(event, layer)) for layer in bar.layers))
                for bar in part.bars
            ),
        )
        for part in score.parts
    )
    return replace(score, parts=parts)


SCORE = document(
    """
    Trumpet in C 1: C5:w | C5:h C5:h
    Trumpet in C 2: G4:w | G4:h C5:h
    """
)


def test_each_note_given_to_nobody_is_found_with_its_place() -> None:
    ledger = Ledger(4, 3, 0, (LOST,))
    found = run(SCORE, ledger=ledger, only=["lost-sketch-note"])
    assert [(f.severity.value, f.pitch, f.index) for f in found] == [("warning", "E4", 1)]
    assert "bar 2 beat 3" in found[0].message
    assert "nobody was left" in found[0].message


def test_nothing_is_lost_where_the_ledger_is_even() -> None:
    assert run(SCORE, ledger=Ledger(4, 4, 0, ()), only=["lost-sketch-note"]) == []
    assert run(SCORE, only=["lost-sketch-note"]) == []


def test_two_trumpets_on_one_sketch_note_while_another_is_lost() -> None:
    doubled = with_origins(SCORE, [0, 1, 2, 3, 4, 2])
    found = run(doubled, ledger=Ledger(4, 3, 0, (LOST,)), only=["unasked-doubling"])
    assert [(f.part, f.bar, f.beat) for f in found] == [("Trumpet in C 1", "2", 3.0)]


def test_a_doubling_is_nobodys_business_where_nothing_is_lost() -> None:
    doubled = with_origins(SCORE, [0, 1, 2, 3, 4, 2])
    assert run(doubled, ledger=Ledger(4, 4, 0, ()), only=["unasked-doubling"]) == []


def test_each_has_its_own_note_while_one_is_lost() -> None:
    dealt = with_origins(SCORE, [0, 1, 2, 3, 4, 5])
    assert run(dealt, ledger=Ledger(6, 5, 0, (LOST,)), only=["unasked-doubling"]) == []
