"""What can go wrong with a print: a file that cannot be drawn, and remarks on one that was."""


class CannotDraw(Exception):
    """The record cannot be drawn; the text says what to do about it."""


class Remarks:
    """Remarks on a print, each once, in the order in which they came up."""

    def __init__(self) -> None:
        self._lines: dict[str, None] = {}

    def add(self, line: str) -> None:
        self._lines[line] = None

    @property
    def lines(self) -> list[str]:
        return list(self._lines)
