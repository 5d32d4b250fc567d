"""What may be said of work that was logged after an area had been closed for good (rule R23)."""

from foundation.refusal import Refusal

FOR_GOOD = "permanent"
LEAST_WORDS = 3
NO_WORDS = "Say what was done and why the inside was not touched. It stays with the area."


def check_explain(kind: str, closed: bool, words: str, sessions: int) -> None:
    """Refuse an explanation where there is nothing to explain, or one that says nothing."""
    if not closed:
        raise Refusal("not_closed", "This area is open. Work inside needs no explanation.")
    if kind != FOR_GOOD:
        raise Refusal("access_panel", "This is an access panel. Open it again when work goes on inside.")
    if not sessions:
        raise Refusal("no_session", "Choose the sessions that did not touch the inside.", "sessions")
    if len(words.strip()) < LEAST_WORDS:
        raise Refusal(
            "no_words", "Say what was done and why the inside was not touched. It stays with the area.", "words"
        )
