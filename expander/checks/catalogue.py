"""The catalogue page of all checks: `python -m expander.checks.catalogue` writes it."""

from __future__ import annotations

import sys
from pathlib import Path

from expander.checks.check import Check
from expander.checks.registry import by_section
from expander.checks.wording import CAUTION

PAGE = Path(__file__).with_name("CATALOGUE.md")

_INTRODUCTION = """\
# Checks

What `expander check` looks for, and what stands at the end of every `expand`. Made from the
checks themselves by `python -m expander.checks.catalogue`; do not edit by hand.

An **error** cannot be played as written, a **warning** is risky or unusual, a **note** is worth a
look. The gravest that a check gives stands in the tables.
"""


def page() -> str:
    """The catalogue as Markdown."""
    text = [_INTRODUCTION, f"{CAUTION}\n"]
    for title, checks in by_section():
        text += [f"## {title}\n", "| check | finds | at worst |", "| --- | --- | --- |"]
        text += [f"| [{c.id}](#{c.id}) | {c.title} | {c.severity.value} |" for c in checks]
        text += ["", *(_entry(check) for check in checks)]
    return "\n".join(text)


def _entry(check: Check) -> str:
    return (
        f"### {check.id}\n\n{check.finds}\n\n"
        f"- **Why it matters.** {check.why}\n"
        f"- **Example.** {check.example}\n"
        f"- **What to try.** {check.instead}\n"
        f"- **Severity.** {check.severity.value.capitalize()} at worst.\n"
        f"- **Levels.** {check.levels}\n"
        f"- **Figures.** {check.source}\n"
    )


def main() -> None:
    """Write the page beside this module."""
    PAGE.write_text(page(), encoding="utf-8")
    sys.stdout.write(f"{PAGE.name}: {page().count('### ')} checks\n")


if __name__ == "__main__":
    main()
