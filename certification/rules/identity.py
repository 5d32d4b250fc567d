"""One identity on every paper (rule R52): held letter by letter, and near misses told by what makes them near."""

from dataclasses import dataclass
from itertools import combinations
from unicodedata import normalize

# The four things that identify the aircraft: the project's field, what it is called, the paper's field.
FIELDS = {
    "builder": ("builder_name", "Builder", "said_builder"),
    "model": ("model_designation", "Model", "said_model"),
    "serial": ("serial_number", "Serial number", "said_serial"),
    "marks": ("registration", "Marks", "said_marks"),
}

DASHES = dict.fromkeys(map(ord, "‐‑‒–—−-"))
ALIKE = str.maketrans({"o": "0", "O": "0", "Q": "0", "i": "1", "I": "1", "l": "1", "|": "1"})


def spaceless(text: str) -> str:
    return "".join(text.split())


# What makes two texts the same once it is let go of, the most harmless first.
FOLDS = {
    "the same letters in another encoding": lambda text: normalize("NFKC", text),
    "capital and small letters": str.casefold,
    "spaces": spaceless,
    "hyphens": lambda text: text.translate(DASHES),
    "periods and commas": lambda text: text.replace(".", "").replace(",", ""),
    "letters and figures that look alike, such as the letter O and zero": lambda text: text.translate(ALIKE),
}


@dataclass(frozen=True)
class Mismatch:
    """One thing that is told otherwise on a paper: what the project says, what stands there, how they differ."""

    field: str
    own: str
    said: str
    near: tuple[str, ...]

    @property
    def label(self) -> str:
        return FIELDS[self.field][1]

    @property
    def words(self) -> str:
        """In what the two differ."""
        if not self.said:
            return "is not there as the project has it"
        if not self.own:
            return "the project does not say it yet"
        if self.near:
            return f"differs only in {' and '.join(self.near)}"
        return "differs"


def held_against(field: str, own: str, said: str) -> Mismatch | None:
    """Whether a paper says the same as the project, letter by letter; nothing said is no mismatch."""
    if not said or own == said:
        return None
    return Mismatch(field, own, said, near(own, said))


def near(own: str, said: str) -> tuple[str, ...]:
    """The fewest folds under which two texts are the same; empty where they are different altogether."""
    if not own:
        return ()
    for count in range(1, len(FOLDS) + 1):
        for names in combinations(FOLDS, count):
            if folded(own, names) == folded(said, names):
                return names
    return ()


def folded(text: str, names: tuple[str, ...]) -> str:
    # Look-alikes come last: folding capitals first would turn I into i before it is seen as a 1.
    for name in names:
        text = FOLDS[name](text)
    return text
