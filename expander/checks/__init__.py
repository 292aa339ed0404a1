"""Checks: what a careful librarian and each section leader would catch in a full score."""

from expander.checks.check import Check, Hit, Level
from expander.checks.registry import all_checks
from expander.checks.runner import run

__all__ = ["Check", "Hit", "Level", "all_checks", "run"]
