"""The one exception for expected trouble: what may not be done, said so that the builder can act on it."""


class Refusal(Exception):
    """A write that the rules do not allow.

    `code` is for programs, `message` for the person, `field` names the form field it belongs to (None: the whole form).
    """

    def __init__(self, code: str, message: str, field: str | None = None) -> None:
        super().__init__(message)
        self.code = code
        self.message = message
        self.field = field
