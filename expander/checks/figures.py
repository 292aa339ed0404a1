"""Figures and words of the checks' own, from `figures.toml`."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from functools import cache
from typing import Any

from expander.model.tables import table


def figures() -> Mapping[str, Any]:
    """All of them, by section."""
    return table(__file__, "figures.toml")


@cache
def figure(check: str, name: str) -> float:
    """One number of a check. Raises KeyError where there is none."""
    return float(figures()["limits"][check][name])


@cache
def folded(text: str) -> str:
    """Lower case without accents, one blank between words: "Più mosso" is "piu mosso"."""
    bare = unicodedata.normalize("NFKD", text.replace("ß", "ss").replace("♭", "b"))
    plain = "".join(c for c in bare if not unicodedata.combining(c))
    return " ".join(plain.lower().split())
