"""Cancellations of what was never asked for."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.music import Music, Stand, Words
from expander.checks.saying import said_by
from expander.model.finding import Severity

CANCELS = {("bow", "arco"): "pizz. or col legno", ("mute", ""): "a mute", ("split", "unis"): "div."}
DEFAULTS = {"bow": ("", "arco"), "mute": ("",), "split": ("", "unis")}


def detect(music: Music) -> Iterator[Hit]:
    """'arco', 'senza sord.', 'open' or 'unis.' with nothing before them to cancel."""
    for stand in music.stands:
        if stand.family in ("strings", "brass") and stand.chords:
            yield from _idle(stand)


def _idle(stand: Stand) -> Iterator[Hit]:
    state = {"bow": "", "mute": "", "split": ""}
    for words in stand.words:
        for name, value in said_by(words.plain):
            cancelled = CANCELS.get((name, value))
            if cancelled and state[name] in DEFAULTS[name] and _in_the_music(stand, words):
                yield Hit(
                    stand,
                    words.bar,
                    words.at,
                    f"'{words.text}' has nothing to cancel: {cancelled} was not asked for before.",
                    figure=cancelled,
                )
            if name in state:
                state[name] = value


def _in_the_music(stand: Stand, words: Words) -> bool:
    """At the very beginning such words only make sure."""
    return words.start > stand.chords[0].start


CHECK = Check(
    id="nothing-to-cancel",
    title="Cancelled without having been asked for",
    finds="'arco', 'senza sord.', 'open' or 'unis.' where nothing of the kind was in force.",
    why="The mark it answers was lost, so that a passage before has the wrong colour.",
    example="'arco' in bar 20 of a part that has no 'pizz.' before.",
    instead="Look for the missing 'pizz.' or mute, or take the words away.",
    severity=Severity.NOTE,
    source="Common practice, no source.",
    detect=detect,
)
