"""The door for rule files: reading them, checking them, and writing a first one."""

from expander.rulefile.against import check_against
from expander.rulefile.facts import facts_of
from expander.rulefile.first import Heading, first_rules
from expander.rulefile.load import load_rules, parse_rules
from expander.rulefile.schema import rules_schema
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
