"""What stops a text from being YAML, told to a musician."""

from __future__ import annotations

import re

import yaml

from expander.errors import ExpanderError, Spot

_LEADING = re.compile(r"^[ \t]*")
_BREAK = re.compile(r"\r\n|[\n\r\x85\u2028\u2029]")

# The parser's words; which of its two marks to show; the fault; what to try.
# The first row that fits counts.
_TOLD: tuple[tuple[str, str, str, str], ...] = (
    (
        "'\\t' that cannot start",
        "problem",
        "A tab stands here; YAML does not take tabs.",
        "Use blanks.",
    ),
    (
        "that cannot start any token",
        "problem",
        "{character} cannot begin a value.",
        "Put the value in quotes.",
    ),
    (
        "mapping values are not allowed",
        "problem",
        "A colon stands where none was expected.",
        "Check the indentation of this line and the one before; text that holds a colon goes "
        'in quotes: "like: this".',
    ),
    ("but found ':'", "problem", "A name is missing before this colon.", ""),
    (
        "expected ',' or ']'",
        "context",
        'The list opened here with "[" is not closed, or lacks a comma.',
        "Write [flute 1, clarinet 1].",
    ),
    (
        "expected ',' or '}'",
        "context",
        'The group opened here with "{{" is not closed, or lacks a comma.',
        "Write {{play: tune, by: flute 1}}.",
    ),
    (
        "while parsing a flow node",
        "problem",
        "A list or group in brackets is not closed, or a value is missing.",
        "Write [flute 1, clarinet 1] or {{play: tune, by: flute 1}}.",
    ),
    (
        "while scanning a quoted scalar",
        "context",
        "The quotation mark that opens here is never closed.",
        "Close it on the same line.",
    ),
    (
        "while scanning a double-quoted scalar",
        "problem",
        "A backslash stands in front of a letter that has no meaning after it.",
        "Use 'single quotes'.",
    ),
    (
        "could not find expected ':'",
        "context",
        "This line lacks the colon that follows a name.",
        "Write name: value, with a blank after the colon.",
    ),
    (
        "expected <block end>",
        "problem",
        "The indentation does not match the lines before.",
        "Lines of one list or group start in the same column.",
    ),
    (
        "sequence entries are not allowed",
        "problem",
        'A "-" stands where none was expected.',
        "Start each line of a list on a line of its own.",
    ),
    (
        "<document start>",
        "problem",
        "The indentation does not match the lines before.",
        "Lines of one list or group start in the same column.",
    ),
    (
        "while scanning an alias",
        "context",
        'A "*" stands before a value.',
        'Put text that begins with * in quotes: "*".',
    ),
    (
        "while scanning an anchor",
        "context",
        'A "&" stands before a value.',
        'Put text that begins with & in quotes: "&".',
    ),
    (
        "while scanning a tag",
        "context",
        'A "!" stands before a value.',
        'Put text that begins with ! in quotes: "!".',
    ),
    (
        "while parsing a tag",
        "problem",
        'A "!" stands before a value.',
        'Put text that begins with ! in quotes: "!".',
    ),
    (
        "while scanning a directive",
        "context",
        'A line begins with "%".',
        "Put text that begins with % in quotes.",
    ),
    (
        "while scanning a block scalar",
        "context",
        'A "|" or ">" stands before a value.',
        "Put the text in quotes.",
    ),
)


def tab_mistakes(text: str, name: str) -> list[ExpanderError]:
    """One mistake for each line that is indented with a tab."""
    found = []
    for number, line in enumerate(_BREAK.split(text), 1):
        indent = _LEADING.match(line)
        column = indent.group().find("\t") + 1 if indent else 0
        if column and line.strip():
            fault = "This line is indented with a tab; YAML does not take tabs."
            spot = Spot(name, number, column)
            found.append(ExpanderError(fault, at=spot, hint="Indent with blanks."))
    return found


def told(error: yaml.YAMLError, text: str, name: str) -> ExpanderError:
    """The parser's complaint, with its place and in plain words."""
    if not isinstance(error, yaml.MarkedYAMLError):
        return _control_character(error, text, name)
    said = f"{error.context or ''} {error.problem or ''}"
    row = next((row for row in _TOLD if row[0] in said), None)
    if row is None:
        return ExpanderError(f"This is not YAML: {said.strip()}.", at=_spot(error, "problem", name))
    _, which, fault, hint = row
    spot = _spot(error, which, name)
    words = fault.format(character=_character(error, text))
    return ExpanderError(words, at=spot, hint=hint.format())


def _spot(error: yaml.MarkedYAMLError, which: str, name: str) -> Spot:
    first, second = error.problem_mark, error.context_mark
    mark = (second or first) if which == "context" else (first or second)
    return Spot(name, mark.line + 1, mark.column + 1) if mark else Spot(name)


def _character(error: yaml.MarkedYAMLError, text: str) -> str:
    mark = error.problem_mark
    index = mark.index if mark else len(text)
    return f'"{text[index]}"' if index < len(text) else "This"


def _control_character(error: yaml.YAMLError, text: str, name: str) -> ExpanderError:
    position = getattr(error, "position", 0)
    before = text[:position]
    line, column = before.count("\n") + 1, position - before.rfind("\n")
    fault = f"A control character (code {ord(text[position])}) stands in the text."
    return ExpanderError(fault, at=Spot(name, line, column), hint="Delete it.")
