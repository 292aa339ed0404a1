"""The door for rule files: reading them, checking them, and writing a first one.

What reads a file is imported when there is one: its library takes longer to import than a short
command has.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from expander.model.rules import Rules
from expander.rulefile.against import check_against
from expander.rulefile.facts import facts_of
from expander.rulefile.first import Heading, first_rules
from expander.rulefile.techniques import find_technique, techniques

__all__ = [
    "Heading",
    "check_against",
    "facts_of",
    "find_technique",
    "first_rules",
    "load_rules",
    "parse_rules",
    "rules_schema",
    "techniques",
]


def load_rules(path: str | Path) -> Rules:
    """The rules in a UTF-8 YAML file. Raises `BadRules` with every mistake, in order of place."""
    from expander.rulefile import load

    return load.load_rules(path)


def parse_rules(text: str, name: str = "rules") -> Rules:
    """The rules in a YAML text, called `name` in messages; raises as `load_rules` does."""
    from expander.rulefile import load

    return load.parse_rules(text, name)


def rules_schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of a rule file, with titles, descriptions and examples."""
    from expander.rulefile import schema

    return schema.rules_schema()
