"""Pure decisions about hold and witness points (rule R25)."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

HOLD, WITNESS = "hold", "witness"
KINDS = {HOLD: "Hold point", WITNESS: "Witness point"}

INVITED, WENT_ON = "invited", "went_on"
CALLS = {INVITED: "Invited", WENT_ON: "Went on without"}


def call_in_words(said: Mapping[str, Any]) -> str:
    """An invitation or a going on in one line."""
    at = said.get("planned_at")
    words = [said["kind"], said["whom"], f"for {at:%-d %b %Y, %H:%M}" if isinstance(at, datetime) else ""]
    return ": ".join(filter(None, (" ".join(filter(None, words)), said["words"])))
