"""Letters in a box that may be small: as large as they can be with everything said, cut by words at last."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from foundation import lettering as let
from foundation.lettering import Style

# Sizes in points, tried from the largest.
SIZES = (34, 28, 22, 18, 16, 14, 12, 11, 10, 9, 8, 7.5, 7, 6.5, 6, 5.5, 5)
# How much larger than the other letters the number is, where there is room.
NUMBER = 2.4
LEADING = 1.2
SMALLEST_TOP = 4.5
# A number that needs smaller letters than this to stand on one line is broken instead.
WHOLE_NUMBER = 6.5


@dataclass(frozen=True)
class Line:
    """A line of clean text, its lettering, and how far it lies below the one before it (or the top), in points."""

    text: str
    style: Style
    drop: float


@dataclass(frozen=True)
class Words:
    """Clean text for one label: small print on top, the number, the name, lines of facts."""

    top: str
    number: str
    name: str
    facts: tuple[str, ...]


def composed(words: Words, width: float, height: float) -> list[Line]:
    """The lines that fit a box of this size in points: the largest letters with which all of it fits, or the smallest
    with the name cut short, then without lines of facts from the last, then without the top line. The number is broken
    only where it would have to be tiny for one line."""
    broken = let.width(words.number, number_style(WHOLE_NUMBER)) > width
    for size in SIZES:
        if not broken and let.width(words.number, number_style(size)) > width:
            continue
        lines = list(laid_out(words, size, width))
        if depth(lines) <= height:
            return lines
    return next(fitting for fitting in shortened(words, width, height) if depth(fitting) <= height or len(fitting) == 1)


def shortened(words: Words, width: float, height: float) -> Iterator[list[Line]]:
    """Less and less of the words in the smallest letters; the number alone at last."""
    size = SIZES[-1]
    name_lines = len(let.wrapped(words.name, name_style(size), width))
    for most in range(name_lines - 1, 0, -1):
        yield list(laid_out(words, size, width, most))
    for kept in range(len(words.facts) - 1, -1, -1):
        yield list(laid_out(Words(words.top, words.number, words.name, words.facts[:kept]), size, width, 1))
    yield list(laid_out(Words("", words.number, words.name, ()), size, width, 1))
    yield [Line(let.cut(words.number, number_style(size), width), number_style(size), size)]


def laid_out(words: Words, size: float, width: float, most: int = 99) -> Iterator[Line]:
    """All lines in letters of this size; `most` is the number of lines that the name may take."""
    if words.top:
        fits = 0.99 * width / let.width(words.top, number_style(1))
        style = Style(let.LETTER, max(min(size * 0.86, fits), SMALLEST_TOP), 0, let.INK_3)
        yield Line(let.cut(words.top, style, width), style, style.size * LEADING)
    yield from number_lines(words.number, size, width)
    for text in by_words(words.name, name_style(size), width, most):
        yield Line(text, name_style(size), size * LEADING)
    for text in words.facts:
        style = Style(let.STRONG, size, 0)
        for piece in let.wrapped(text, style, width):
            yield Line(piece, style, size * LEADING)


def name_style(size: float) -> Style:
    return Style(let.TEXT, size, 0)


def number_style(size: float) -> Style:
    return Style(let.LETTER, size, 0)


def number_lines(number: str, size: float, width: float) -> Iterator[Line]:
    """The number on one line, as large as it fits, or in more lines where it would be smaller than the name."""
    wide = let.width(number, number_style(1))
    largest = min(size * NUMBER, width / wide)
    if largest >= size:
        yield Line(number, number_style(largest), largest)
        return
    for piece in let.wrapped(number, number_style(size), width):
        yield Line(piece, number_style(size), size * LEADING)


def by_words(text: str, style: Style, width: float, most: int) -> Sequence[str]:
    """Text in at most so many lines; what does not fit is left out by whole words, with dots in its place."""
    lines = list(let.wrapped(text, style, width))
    if len(lines) <= most:
        return lines
    if most == 0:
        return []
    words = lines[most - 1].split(" ")
    while len(words) > 1 and let.width(" ".join(words) + " …", style) > width:
        words.pop()
    return [*lines[: most - 1], let.cut(" ".join(words) + " …", style, width)]


def depth(lines: Sequence[Line]) -> float:
    """How far down the lines reach, with what hangs below the last base line."""
    return sum(line.drop for line in lines) + (0.25 * lines[-1].style.size if lines else 0)
