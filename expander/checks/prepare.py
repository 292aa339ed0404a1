"""From a score to the view that the checks read: one walk over every part, in linear time."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from operator import attrgetter

from msgspec import Struct
from msgspec.structs import replace

from expander.catalogue.limits import section_sizes
from expander.catalogue.loader import CLEFS, instrument
from expander.catalogue.naming import plain, words
from expander.catalogue.recognise import Recognised, recognise
from expander.checks.contents import Contents
from expander.checks.figures import figures
from expander.checks.following import Follower, Told
from expander.checks.music import Chord, InHand, Music, Stand, Voice
from expander.checks.tempo import clock_of
from expander.checks.transposing import octave_that_fits, taken
from expander.model.finding import Ledger
from expander.model.instrument import Ensemble, Instrument
from expander.model.pitch import Transposition, Written
from expander.model.score import Clef, Document, Part

_LOW_VOICE = ("bass", "b", "basso", "bassus", "basses")

CHOIR = 3
"""As many sung parts make a choir, whose parts have several readers."""

SEVERAL = 4
"""Readers of a choir's part where nothing is said."""


def music_of(
    score: Document,
    *,
    level: str = "professional",
    ensemble: Ensemble | None = None,
    ledger: Ledger | None = None,
) -> Music:
    """The score prepared for checking."""
    names = unique_names(score)
    choir, old = _is_choir(score), _by_function(score)
    told = Told(score, clock_of(score))
    known = [_recognised(one, ensemble, choir) for one in told.contents]
    if old:
        known = [replace(one, doubtful=True) if _sings(one) else one for one in known]
    if ensemble and len(ensemble.staves) == len(score.parts):
        known = [one if one.found else _by_place(ensemble, i) for i, one in enumerate(known)]
    sizes = _Sizes(score, [one.found for one in known], ensemble)
    stands = tuple([_stand(told, i, name, known[i], sizes) for i, name in enumerate(names)])
    starts = tuple([bar.start for bar in score.bars])
    return Music(score, stands, told.moments.clock, told.moments, level, ensemble, ledger, starts)


def unique_names(score: Document) -> list[str]:
    """What findings call the parts: their names in one line, numbered where they repeat."""
    bare = [
        " ".join(p.name.split()) or p.short or f"part {i}" for i, p in enumerate(score.parts, 1)
    ]
    counts, seen = Counter(bare), Counter[str]()
    names: list[str] = []
    for name in bare:
        seen[name] += 1
        names.append(f"{name} [{seen[name]}]" if counts[name] > 1 else name)
    return names


# ------------------------------------------------------------------ who plays


class Known(Struct, frozen=True):
    """What a part was recognised as; `doubtful` where a singer's voice had to be guessed."""

    found: Recognised | None
    doubtful: bool = False


def _recognised(contents: Contents, ensemble: Ensemble | None, choir: bool) -> Known:
    part, sung = contents.part, contents.worded
    clef, name = first_clef(part), plain(part.name)
    if name.partition(" ")[0] in figures()["by-function"]["names"]:
        return Known(Recognised(instrument("soprano")) if sung else None, doubtful=True)
    found = _read(part, clef, sung=sung) or _by_line_up(part, ensemble)
    if found is None and choir and name in _LOW_VOICE:
        found = _read(part, clef, sung=True)
    if found is None or found.instrument.family != "voice":
        return Known(found)
    if name in _LOW_VOICE:
        found = Recognised(instrument("bass"), found.numbers)
    elif name in figures()["by-function"]["any voice"]:
        return Known(found, doubtful=True)
    ways = {_read(part, CLEFS[one], sung=True) for one in ("treble", "bass", "alto")}
    guessed = len(ways) > 1 and name not in _LOW_VOICE
    return Known(found, doubtful=guessed or _strange_clef(found.instrument, clef))


def _read(part: Part[Written], clef: Clef | None, *, sung: bool) -> Recognised | None:
    sound = part.sounds[0] if part.sounds else None
    named = _names_key(part.name)
    return recognise(
        " ".join(part.name.split()),
        part.short,
        sound.sound if sound and not named else "",
        # Where the name tells the key, a transposition that says otherwise is a fault to find.
        None if named else stated_transposition(part),
        sound.program if sound else 0,
        has_words=sung,
        clef=clef,
    )


def _names_key(name: str) -> bool:
    """True where a part's name ends or begins with a key: "Clarinet in A 2", "Es-Klarinette"."""
    said = [word for word in plain(name).split() if not word.isdigit()]
    return len(said) > 1 and (said[-1] in words()["keys"] or said[0] in words()["keys"])


def _strange_clef(one: Instrument, clef: Clef | None) -> bool:
    """True for a high voice in a low clef and the reverse: the name means something else."""
    if clef is None or one.id == "tenor":
        return False
    low = clef.sign == "F" or clef.octave < 0
    return low != (one.id in ("bass", "baritone")) and clef.sign != "C"


def _is_choir(score: Document) -> bool:
    names = {plain(part.name) for part in score.parts}
    return len(names & {"soprano", "alto", "tenor"}) > 1


def _by_function(score: Document) -> bool:
    """True where the parts are called after their place in the texture, as before 1700."""
    words = figures()["by-function"]["names"]
    return any(plain(part.name).partition(" ")[0] in words for part in score.parts)


def _by_place(ensemble: Ensemble, index: int) -> Known:
    """The line-up's stave at that place, where score and line-up have as many."""
    return Known(Recognised(ensemble.players[ensemble.staves[index].players[0]].instrument))


def _sings(one: Known) -> bool:
    return one.found is not None and one.found.instrument.family == "voice"


def _by_line_up(part: Part[Written], ensemble: Ensemble | None) -> Recognised | None:
    """The instrument of the line-up's player or stave of that name."""
    name = plain(part.name)
    for player in ensemble.players if ensemble else ():
        if name and name in (plain(player.name), plain(player.label), plain(player.short)):
            return Recognised(player.instrument)
    return None


def stated_transposition(part: Part[Written]) -> Transposition | None:
    """The first transposition the file states for a part, None where it states none."""
    for change in part.bars[0].changes if part.bars else ():
        if isinstance(change.what, Transposition):
            return change.what
    return None


def first_clef(part: Part[Written]) -> Clef | None:
    """The part's first clef."""
    for change in part.bars[0].changes if part.bars else ():
        if isinstance(change.what, Clef):
            return change.what
    return None


class _Sizes:
    """How many people read each part."""

    def __init__(
        self, score: Document, known: Sequence[Recognised | None], ensemble: Ensemble | None
    ) -> None:
        families = Counter(one.instrument.family for one in known if one)
        self.orchestra = families["strings"] >= CHOIR + 1 and bool(
            families["woodwind"] or families["brass"]
        )
        self.choir = families["voice"] >= CHOIR
        self.given: dict[str, int] = {}
        for stave in ensemble.staves if ensemble else ():
            size = sum(ensemble.players[i].size for i in stave.players) if ensemble else 1
            self.given[plain(stave.label)] = size

    def of(self, part: Part[Written], one: Recognised | None) -> int:
        """Readers of a part: from the line-up, else from its name and surroundings."""
        given = self.given.get(plain(part.name))
        if given or one is None:
            return given or 1
        family = one.instrument.family
        if family == "strings":
            return self._strings(part, one)
        if family == "voice":
            return SEVERAL if self.choir else 1
        if len(one.numbers) > 1:
            return len(one.numbers)
        return 2 if not one.numbers and is_plural(part.name, one.instrument) else 1

    def _strings(self, part: Part[Written], one: Recognised) -> int:
        soloist = plain(part.name).startswith("solo") or plain(part.name).endswith(" solo")
        if soloist or not (self.orchestra or is_plural(part.name, one.instrument)):
            return 1
        sizes = section_sizes()
        name = one.instrument.section
        number = one.numbers[0] if one.numbers else 1
        return sizes.get(f"{name} {number}", sizes.get(name, SEVERAL))


def is_plural(name: str, one: Instrument) -> bool:
    """True where a part's name counts several players without numbers: "Oboi", "Horns in F"."""
    first = plain(name).partition(" ")[0]
    if one.family in ("woodwind", "brass") and len(first) > 3:
        return first.endswith(tuple(words()["plural endings"]))
    return one.plural != one.name and plain(name).startswith(plain(one.plural))


# ------------------------------------------------------------------- one part


def _stand(told: Told, index: int, name: str, known: Known, sizes: _Sizes) -> Stand:
    score, contents, one = told.score, told.contents[index], known.found
    part = contents.part
    stated = stated_transposition(part)
    played = one.instrument if one else None
    if played and known.doubtful:
        played = without_ranges(played)
    key = one.key if one else ""
    move = taken(played, stated, key, score.header.concert_pitch)
    if stated is None and not score.header.concert_pitch:
        move = octave_that_fits(played, move, part, key)
    follower = Follower(told, contents, played, key, move)
    voices = tuple(
        Voice(layer.staff, layer.voice, tuple(chords))
        for layer, chords in zip(part.layers, follower.walk(), strict=True)
        if chords
    )
    start = (InHand(0, 0, 0, played, True),) if played else ()
    return Stand(
        index=index,
        name=name,
        part=part,
        instrument=played,
        numbers=one.numbers if one else (),
        key=key,
        stated=stated,
        move=move,
        players=sizes.of(part, one),
        doubtful=known.doubtful,
        sung=bool(played and played.family == "voice") or contents.worded,
        voices=voices,
        chords=_merged(voices),
        words=tuple(follower.words),
        changes=(*start, *follower.changes),
        hands=tuple(follower.at_bars),
        cued=frozenset(follower.cued),
        contents=contents,
    )


def without_ranges(one: Instrument) -> Instrument:
    """A singer whose voice is not known: nothing is held against its range."""
    return replace(one, professional=None, comfortable=None, student=None, widest=None)


def _merged(voices: Sequence[Voice]) -> tuple[Chord, ...]:
    if len(voices) == 1:
        return voices[0].chords
    chords = [chord for voice in voices for chord in voice.chords]
    chords.sort(key=attrgetter("start"))
    return tuple(chords)
