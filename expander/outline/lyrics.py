"""The words: syllables joined to words, words to lines, each with the bars it falls on."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from expander.checks.music import Chord, Music, Stand
from expander.outline.values import LyricLine

_ENDS = re.compile(r"[.!?…]['’”\"»)]*$")
_PAUSES = re.compile(r"[,;:—–]['’”\"»)]*$")

FULL = 6
"""Words that make a full line."""


@dataclass(slots=True)
class _Word:
    text: str
    bar: int
    last: int
    start: int
    end: int


def lyric_lines(music: Music) -> list[LyricLine]:
    """Every line of words of the piece in order; lines that several sing are told once."""
    seen: set[tuple[str, int, str]] = set()
    lines: list[LyricLine] = []
    singers = sorted(music.stands, key=lambda s: -sum(bool(c.event.lyrics) for c in s.chords))
    for stand in singers:
        name = "" if stand is singers[0] else stand.name
        for line in _lines_of(music, stand, name):
            key = (line.verse, line.first, line.text.lower())
            if key not in seen:
                seen.add(key)
                lines.append(line)
    return sorted(lines, key=lambda one: (one.first, one.verse, one.singer))


def _lines_of(music: Music, stand: Stand, name: str) -> Iterator[LyricLine]:
    quarter = music.score.grid
    for voice in stand.voices:
        verses = dict.fromkeys(syl.verse for c in voice.chords for syl in c.event.lyrics)
        for verse in verses:
            for words in _broken(_words(voice.chords, verse), quarter):
                text = " ".join(word.text for word in words)
                yield LyricLine(verse, words[0].bar, words[-1].last, text, name)


def _words(chords: Iterable[Chord], verse: str) -> list[_Word]:
    """Whole words with the bars and ticks from their first syllable to the end of their last."""
    words: list[_Word] = []
    inside = False
    for chord in chords:
        syllables = [s for s in chord.event.lyrics if s.verse == verse and s.text.strip()]
        if not syllables:
            _held(words, chord, verse)
        for syllable in syllables:
            text = syllable.text.strip()
            if inside and syllable.syllabic in ("middle", "end"):
                words[-1].text += text
                words[-1].last, words[-1].end = chord.bar, chord.end
            else:
                words.append(_Word(text, chord.bar, chord.bar, chord.start, chord.end))
            inside = syllable.syllabic in ("begin", "middle")
    return words


def _held(words: list[_Word], chord: Chord, verse: str) -> None:
    """A note without a syllable of its own holds the one before it."""
    others = any(s.text.strip() and s.verse != verse for s in chord.event.lyrics)
    if words and not others and chord.start == words[-1].end:
        words[-1].end = chord.end


def _broken(words: Iterable[_Word], quarter: int) -> Iterator[list[_Word]]:
    """Words in lines: see `_parts`."""
    line: list[_Word] = []
    for word in words:
        if line and _parts(line, word, quarter):
            yield line
            line = []
        line.append(word)
    if line:
        yield line


def _parts(line: list[_Word], after: _Word, quarter: int) -> bool:
    """True where a new line begins: after a full stop, after a comma with a breath or in a full
    line, in a long rest, and at any breath of a full line."""
    before = line[-1]
    gap, full = after.start - before.end, len(line) >= FULL
    if _ENDS.search(before.text) or gap >= 3 * quarter:
        return True
    if _PAUSES.search(before.text):
        return full or gap > 0 or after.bar > before.bar
    return gap > 0 and full
