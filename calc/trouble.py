"""The one exception of calc: a figure that cannot be, said so that the builder can put it right."""


class Impossible(ValueError):
    """An input that nothing can be computed from.

    `code` is for programs ("impossible", "unknown", "backward", "missing", "type"), `sentence` for the person, `field`
    names the input.
    """

    def __init__(self, sentence: str, field: str | None = None, code: str = "impossible") -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.field = field
        self.code = code
