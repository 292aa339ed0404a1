"""What a check is: words for its catalogue page, a severity, and a pure detector."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from enum import StrEnum

from msgspec import Struct

from expander.checks.music import Music, Stand
from expander.model.finding import Severity


class Level(StrEnum):
    """Who plays: it chooses the range column and how strict the limits of time are."""

    STUDENT = "student"
    AMATEUR = "amateur"
    PROFESSIONAL = "professional"


class Hit(Struct, frozen=True):
    """One place a detector points at.

    `stand` is None for what concerns the whole score. `bar` is an index from 0, `at` a tick in it.
    `pitch` is the note as written, `figure` what it was held against. `severity` and `source` are
    those of the check where they are left out.
    """

    stand: Stand | None
    bar: int
    at: int | None
    message: str
    pitch: str = ""
    figure: str = ""
    severity: Severity | None = None
    source: str = ""


Detector = Callable[[Music], Iterator[Hit]]


class Check(Struct, frozen=True):
    """A check and its page in the catalogue.

    `id` is in plain words ("above-range") and never changes its meaning. `finds` says what it
    finds, `why` why that matters, `example` shows one, `instead` what to try. `severity` is the
    gravest it gives. `source` says where its figures come from, `levels` what the level changes.
    """

    id: str
    title: str
    finds: str
    why: str
    example: str
    instead: str
    severity: Severity
    source: str
    detect: Detector
    levels: str = "The same at every level."
