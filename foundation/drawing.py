"""What all paper shares: a canvas that draws nothing, a file that cannot be drawn, and remarks on one that was."""

from typing import Any


class CannotDraw(Exception):
    """A file cannot be drawn; the text says what to do about it."""


class Blank:
    """A canvas that draws nothing: a first pass only finds out which sheet everything is on."""

    def __getattr__(self, name: str) -> Any:
        return self._nothing

    def _nothing(self, *args: Any, **options: Any) -> "Blank":
        return self


class Remarks:
    """Remarks on a print, each once, in the order in which they came up."""

    def __init__(self) -> None:
        self._lines: dict[str, None] = {}
        self._closed = False

    def add(self, line: str) -> None:
        if not self._closed:
            self._lines[line] = None

    def close(self) -> None:
        """Take no more: what there is to say about the remarks themselves is said in them already."""
        self._closed = True

    @property
    def lines(self) -> list[str]:
        return list(self._lines)
