"""The words: syllables joined to words, words to lines, each with the bars it falls on."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping

from msgspec import Struct

from expander.checks.music import Chord, Music, Stand
from expander.outline.order import playing_order
from expander.outline.values import LyricLine

_ENDS = re.compile(r"[.!?…]['’”\"»)]*$")
_PAUSES = re.compile(r"[,;:—–]['’”\"»)]*$")

FULL = 6
"""Words that make a full line."""


class _Word(Struct):
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
        by_bar: dict[int, list[Chord]] = {}
        for chord in voice.chords:
            by_bar.setdefault(chord.bar, []).append(chord)
        for verse in dict.fromkeys(syl.verse for c in voice.chords for syl in c.event.lyrics):
            sung = _sung_order(music, by_bar, verse)
            for words in _broken(_words(sung, verse), quarter):
                yield _line(verse, words, name)


def _line(verse: str, words: list[_Word], singer: str) -> LyricLine:
    """A line with its bars; an upbeat before a repeat counts with the line it leads to."""
    jumps = [i for i in range(1, len(words)) if words[i].bar < words[i - 1].bar]
    first = words[jumps[-1] if jumps else 0].bar
    return LyricLine(verse, first, words[-1].last, " ".join(w.text for w in words), singer)


def _sung_order(
    music: Music, by_bar: Mapping[int, list[Chord]], verse: str
) -> Iterator[tuple[int, Chord]]:
    """The chords of a verse as they are sung, each with its time in that order.

    Of a repeated passage a verse takes the turn that has its number, or the last there is.
    """
    order = playing_order(music.score)
    visits, turns = Counter(order), Counter[int]()
    wanted = int(verse) if verse.isdigit() else 1
    time = 0
    for bar in order:
        turns[bar] += 1
        if turns[bar] == min(wanted, visits[bar]):
            yield from ((time + chord.at, chord) for chord in by_bar.get(bar, ()))
            time += music.score.bars[bar].length


def _words(sung: Iterable[tuple[int, Chord]], verse: str) -> list[_Word]:
    """Whole words with the bars and times from their first syllable to the end of their last."""
    words: list[_Word] = []
    inside = False
    for start, chord in sung:
        end = start + chord.end - chord.start
        syllables = [s for s in chord.event.lyrics if s.verse == verse and s.text.strip()]
        if not syllables and words and start == words[-1].end:
            words[-1].end = end
        for syllable in syllables:
            text = syllable.text.strip()
            if inside and syllable.syllabic in ("middle", "end"):
                words[-1].text += text
                words[-1].last, words[-1].end = chord.bar, end
            else:
                words.append(_Word(text, chord.bar, chord.bar, start, end))
            inside = syllable.syllabic in ("begin", "middle")
    return words


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
    """True where a new line begins.

    That is after a full stop, after a comma with a breath or in a full line, in a long rest, and
    at any breath of a full line.
    """
    before = line[-1]
    gap, full = after.start - before.end, len(line) >= FULL
    if _ENDS.search(before.text) or gap >= 3 * quarter:
        return True
    if _PAUSES.search(before.text):
        return full or gap > 0 or after.bar != before.bar
    return gap > 0 and full
