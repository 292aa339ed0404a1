"""The door for rule files: reading them, checking them, and writing a first one."""

from expander.rulefile.load import load_rules, parse_rules
from expander.rulefile.techniques import find_technique, techniques

__all__ = ["find_technique", "load_rules", "parse_rules", "techniques"]
