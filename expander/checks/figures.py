"""Figures and words of the checks' own, from `figures.toml`."""

from __future__ import annotations

import tomllib
import unicodedata
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any


@cache
def figures() -> Mapping[str, Any]:
    """All of them, by section."""
    text = Path(__file__).with_name("figures.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


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
