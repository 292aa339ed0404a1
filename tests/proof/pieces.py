"""Small pieces that the tests of the proof share."""

from __future__ import annotations

from functools import cache

from expander.checks import run
from expander.model.finding import Finding
from expander.model.score import Document
from expander.proof import Proof, proof_of
from tests.mini import document

BARS = 120


@cache
def band() -> Document:
    """Four players, three of them transposing, a change of key, marks, and notes out of range."""
    flute = " | ".join(["[A] <q=96> !mf D5:h F5", *_bars("E5:q D5 C5 A4"), *_late("F5")])
    clarinet = " | ".join(["@treble k2 !mf E4:h G4", *_bars("B4:q A4 G4 E4"), *_late("D3")])
    horn = " | ".join(["k1 !f C5:h D5", *_bars("C5:q B4 G4 D4"), *_late("C7")])
    bass = " | ".join(["@bass !mf F2:h C3", *_bars("F2:q C3 D3 C3"), *_late("F2")])
    return document(
        f"Flute: {flute}\n"
        f"Clarinet in B♭ (-1 -2 0): {clarinet.replace('KEY', 'k5')}\n"
        f"Horn in F (-4 -7 0): {horn.replace('KEY', 'k4')}\n"
        f"Double Bass (0 0 -1): {bass.replace('KEY', 'k3')}".replace("KEY", "k3")
    )


def _bars(music: str) -> list[str]:
    return [music] * (BARS // 2 - 1)


def _late(low: str) -> list[str]:
    """The second half: mark B, the new key, and one note in bar 30 to find."""
    bars = ["[B] KEY R"] + ["R"] * (BARS // 2 - 1)
    bars[11] = f"{low}:w"
    return bars


@cache
def findings() -> tuple[Finding, ...]:
    """What the checks find in it."""
    return tuple(run(band()))


@cache
def band_proof() -> Proof:
    """Its proof."""
    return proof_of(band(), findings())
