"""What `expander list` shows: one line each, made from the data that is shipped."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from expander.model.instrument import Instrument


def lines(what: str) -> Iterator[str]:
    """The lines of one listing: instruments, ensembles, voicings, checks or techniques."""
    return _LISTINGS[what]()


def _instruments() -> Iterator[str]:
    from expander.catalogue.loader import instruments

    for one in instruments():
        yield f"{one.id:22}{_named(one):34}{_compass(one)}"


def _named(one: Instrument) -> str:
    return f"{one.name} in {one.key}" if one.key else one.name


def _compass(one: Instrument) -> str:
    if one.professional is None:
        return "unpitched"
    low, high = one.sounding(one.professional)
    written = f"written {one.professional.low} to {one.professional.high}"
    return f"{written}, sounding {low} to {high} ({one.basis})"


def _ensembles() -> Iterator[str]:
    from expander.catalogue.ensembles import load_ensemble, shipped_ensembles

    for name in shipped_ensembles():
        found = load_ensemble(name)
        yield f"{name:22}{found.description or found.title}"
        yield f"{'':22}{', '.join(player.name for player in found.players)}"


def _voicings() -> Iterator[str]:
    from expander.voicing.recipes import explain

    for one in explain():
        few, many = one.voices
        yield f"{one.name:18}{one.says} ({few} to {many} voices)"
        yield f"{'':18}{one.chord}: {' '.join(one.notes)} (from the top)"


def _checks() -> Iterator[str]:
    from expander.checks import all_checks

    for one in all_checks():
        yield f"{one.id:28}{one.severity:9}{one.title}"


def _techniques() -> Iterator[str]:
    from expander.rulefile import techniques

    for one in techniques().values():
        kind = "mute" if one.is_mute else "as"
        yield f"{kind:6}{one.id:22}{one.on or '(no words)':24}{one.off}"


_LISTINGS: dict[str, Callable[[], Iterator[str]]] = {
    "instruments": _instruments,
    "ensembles": _ensembles,
    "voicings": _voicings,
    "checks": _checks,
    "techniques": _techniques,
}
