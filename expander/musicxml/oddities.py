"""What was odd in a file, collected while it is read."""

from __future__ import annotations

from expander.model.score import Oddity


class Oddities:
    """Collects warnings. `part` and `bar` are where the reader is at the moment."""

    def __init__(self) -> None:
        self.part = ""
        self.bar = ""
        self._found: list[Oddity] = []
        self._said: set[str] = set()

    def add(self, message: str, line: int = 0) -> None:
        """Something odd at the place being read."""
        self._found.append(Oddity(message, line, self.part, self.bar))

    def once(self, message: str, line: int = 0) -> None:
        """Something odd that a file tends to repeat: told at its first place only."""
        if message not in self._said:
            self._said.add(message)
            self.add(message, line)

    @property
    def count(self) -> int:
        """How many were told so far."""
        return len(self._found)

    def mark(self) -> tuple[int, frozenset[str]]:
        """How far it has got, for `rewind`."""
        return len(self._found), frozenset(self._said)

    def rewind(self, mark: tuple[int, frozenset[str]]) -> None:
        """Forgets what was told since."""
        del self._found[mark[0] :]
        self._said = set(mark[1])

    def told(self) -> tuple[Oddity, ...]:
        """All of them, in the order they were met."""
        return tuple(self._found)
