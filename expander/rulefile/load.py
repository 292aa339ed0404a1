"""Reading a rule file: all mistakes at once, or the rules."""

from __future__ import annotations

from pathlib import Path

from pydantic import ValidationError

from expander.errors import BadRules, ExpanderError, Spot
from expander.model.rules import Rules
from expander.rulefile.agreement import disagreements
from expander.rulefile.positions import Item, read_tree
from expander.rulefile.shape import RuleFile
from expander.rulefile.values import rules_of
from expander.rulefile.wording import told

LARGEST = 500_000
"""Bytes. The rules of an evening's music have some tens of thousands."""


def load_rules(path: str | Path) -> Rules:
    """The rules in a UTF-8 YAML file.

    Raises `BadRules` with every mistake in the file, in order of place.
    """
    name = str(path)
    return parse_rules(_decoded(_bytes(Path(path), name), name), name)


def parse_rules(text: str, name: str = "rules") -> Rules:
    """The rules in a YAML text; `name` is what messages call the file.

    Raises `BadRules` with every mistake in the text, in order of place.
    """
    if len(text.encode("utf-8", "surrogatepass")) > LARGEST:
        raise _too_large(name)
    root, mistakes = read_tree(text, name)
    if root is None:
        mistakes.append(_empty(name))
        raise BadRules(mistakes)
    if not isinstance(root.value, dict):
        mistakes.append(_not_a_rule_file(root, name))
        raise BadRules(mistakes)
    shape, refused = _shape(root, name)
    mistakes += [*refused, *disagreements(root, name)]
    if shape is None or mistakes:
        raise BadRules(_in_order(mistakes))
    return rules_of(shape, root, name)


def _shape(root: Item, name: str) -> tuple[RuleFile | None, list[ExpanderError]]:
    try:
        return RuleFile.model_validate(root.plain()), []
    except ValidationError as error:
        return None, [told(e, root, name) for e in error.errors(include_url=False)]


def _in_order(mistakes: list[ExpanderError]) -> list[ExpanderError]:
    """By place; what is said twice of one place (a repeated alias) is said once."""
    once = {mistake.message: mistake for mistake in mistakes}
    return sorted(once.values(), key=lambda m: (m.at.line, m.at.column) if m.at else (0, 0))


def _bytes(path: Path, name: str) -> bytes:
    try:
        with path.open("rb") as file:
            data = file.read(LARGEST + 1)
    except OSError as error:
        fault = f'The rule file "{name}" cannot be read: {error.strerror or "no reason given"}.'
        raise BadRules([ExpanderError(fault, at=Spot(name))]) from None
    if len(data) > LARGEST:
        raise _too_large(name)
    return data


def _decoded(data: bytes, name: str) -> str:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = data[: error.start]
        line, column = before.count(b"\n") + 1, error.start - before.rfind(b"\n")
        fault = f"The file is not UTF-8 text (byte {data[error.start]:#04x} here)."
        spot = Spot(name, line, column)
        raise BadRules([ExpanderError(fault, at=spot, hint="Save it as UTF-8.")]) from None


def _too_large(name: str) -> BadRules:
    fault = f"The file is larger than {LARGEST // 1000} kB; expected a rule file."
    return BadRules([ExpanderError(fault, at=Spot(name))])


def _empty(name: str) -> ExpanderError:
    hint = "Write at least ensemble: and a name, or start from a first rule file."
    return ExpanderError("The file is empty; expected rules.", at=Spot(name, 1, 1), hint=hint)


def _not_a_rule_file(root: Item, name: str) -> ExpanderError:
    shown = "a list" if isinstance(root.value, list) else f'"{root.text[:40]}"'
    fault = f"The file holds {shown}; expected names with a colon, such as ensemble:, plan:."
    return ExpanderError(fault, at=Spot(name, *root.place))
