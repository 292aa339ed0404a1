"""The full score: all parts, the header, brackets, page and playback set-up."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from expander.model.instrument import Ensemble, Stave, symbol_readers
from expander.model.pitch import Written
from expander.model.plan import Line
from expander.model.rules import Rules, Technique
from expander.model.score import Bracket, Document, Header, Mark, Part, Score, Sketch, Sound
from expander.notate.dress import Dresser
from expander.notate.engrave import Engraver
from expander.notate.loudness import Loudness
from expander.notate.page import defaults, page_for, title_page
from expander.notate.part import Shop, make_part
from expander.notate.readings import Reader
from expander.notate.sharing import Sharer
from expander.notate.spanners import Mender
from expander.notate.system import system_of
from expander.notate.turns import Turning

CONCERT = "concert"
DRUM_CHANNEL = 10
CHANNELS = 16


class Built(Struct, frozen=True):
    """The written score and the lines whose player could not play them at all, with the bars."""

    score: Document
    unplayable: tuple[tuple[Line, int], ...]


def build(
    sketch: Sketch,
    lines: Sequence[Line],
    ensemble: Ensemble,
    rules: Rules,
    techniques: Mapping[str, Technique],
    keyless: frozenset[str] = frozenset(),
) -> Built:
    """Write the full score of lines for an ensemble.

    `keyless` are ids of instruments whose parts carry no key signature.
    """
    dresser = Dresser(techniques, {s.id: s for p in sketch.parts for s in p.sounds})
    dressed = [dresser.dressed(line) for line in lines]
    ensemble = _own_staves_for_doublers(ensemble, dressed)
    shop = _shop(sketch, rules, techniques, keyless)
    readers = symbol_readers(ensemble)
    top = frozenset(ensemble.top_staves)
    parts = [
        make_part(
            place + 1,
            stave,
            ensemble,
            dressed,
            shop,
            on_top=place in top,
            symbols=bool(readers & set(stave.players)),
        )
        for place, stave in enumerate(ensemble.staves)
    ]
    score: Document = Score(
        grid=sketch.grid,
        header=_header(sketch.header, rules, parts),
        bars=sketch.bars,
        parts=tuple(with_channels(parts)),
        brackets=ensemble.brackets,
    )
    return Built(score, tuple(dresser.unplayable))


def _shop(
    sketch: Sketch, rules: Rules, techniques: Mapping[str, Technique], keyless: frozenset[str]
) -> Shop:
    turning = Turning(techniques)
    system = system_of(sketch)
    return Shop(
        system=system,
        reader=Reader(system, Engraver(sketch.grid), rules.pitch == CONCERT, keyless),
        loudness=Loudness(sketch.bars, turning),
        turning=turning,
        mender=Mender([bar.start for bar in sketch.bars]),
        sharer=Sharer(),
        techniques=techniques,
    )


def _own_staves_for_doublers(ensemble: Ensemble, lines: Sequence[Line]) -> Ensemble:
    """Players who share a stave get one each where one of them changes instrument."""
    staves: list[Stave] = []
    places: list[tuple[int, int]] = []
    for stave in ensemble.staves:
        first = len(staves)
        staves += _divided(stave, ensemble, lines)
        places.append((first, len(staves) - 1))
    brackets = tuple(
        replace(b, first=places[b.first][0], last=places[b.last][1]) for b in ensemble.brackets
    )
    inner = [Bracket(a, b, "square", barlines=True) for a, b in places if a < b]
    return replace(
        ensemble,
        staves=tuple(staves),
        brackets=(*brackets, *(b for b in inner if b not in brackets)),
        top_staves=tuple(places[i][0] for i in ensemble.top_staves if i < len(places)),
    )


def _divided(stave: Stave, ensemble: Ensemble, lines: Sequence[Line]) -> list[Stave]:
    used = {line.seat.instrument.id for line in lines if line.seat.player in stave.players}
    used |= {ensemble.players[p].instrument.id for p in stave.players}
    if len(stave.players) == 1 or len(used) == 1:
        return [stave]
    players = [(index, ensemble.players[index]) for index in stave.players]
    return [Stave(p.label, p.short, (index,), stave.optional) for index, p in players]


def _header(header: Header, rules: Rules, parts: Sequence[Part[Written]]) -> Header:
    people = header.people
    if rules.arranger:
        people = (*(p for p in people if p[0] != "arranger"), ("arranger", rules.arranger))
    extra = (("version", rules.version),) if rules.version else ()
    head = replace(header, people=people)
    page = page_for(sum(part.staves for part in parts))
    return replace(
        head,
        miscellaneous=(*header.miscellaneous, *extra),
        defaults=defaults(page),
        credits=title_page(head, page, rules.version),
        concert_pitch=rules.pitch == CONCERT,
    )


def with_channels(parts: Sequence[Part[Written]]) -> list[Part[Written]]:
    """Give each playback sound a channel of its own; channel 10 is for percussion alone.

    With more sounds than channels, further ports begin: fifteen channels each.
    """
    taken = 0
    done: list[Part[Written]] = []
    for part in parts:
        sounds: list[Sound] = []
        for sound in part.sounds:
            if sound.key:
                sounds.append(replace(sound, channel=DRUM_CHANNEL))
                continue
            port, place = divmod(taken, CHANNELS - 1)
            channel = place + 1 if place + 1 < DRUM_CHANNEL else place + 2
            sounds.append(replace(sound, channel=channel, carried=(*sound.carried, *_port(port))))
            taken += 1
        done.append(replace(part, sounds=tuple(sounds)))
    return done


def _port(port: int) -> tuple[Mark, ...]:
    return (Mark("score-part", "midi-device", (("port", str(port + 1)),)),) if port else ()
