"""Pure decisions about discrepancies: what may come next, and whether one still stands open."""

from collections.abc import Mapping
from typing import Any

SEVERITIES = {"minor": "Minor", "major": "Major", "safety": "Flight safety"}
USE_AS_IS, REWORK, REPAIR, SCRAP, DEFER = "use", "rework", "repair", "scrap", "defer"
DISPOSITIONS = {
    USE_AS_IS: "Use as is",
    REWORK: "Rework",
    REPAIR: "Repair",
    SCRAP: "Scrap",
    DEFER: "Defer",
}
PHASES = {"found": "As found", "corrected": "Corrected"}
DECIDED, FIXED, REINSPECTED = "decided", "fixed", "reinspected"
STEPS = {DECIDED: "Disposition", FIXED: "Correction", REINSPECTED: "Inspection after it"}


def step_in_words(said: Mapping[str, Any]) -> str:
    """A step in one line."""
    words = [said["kind"], said["disposition"], {True: "accepted", False: "not accepted"}.get(said["accepted"], "")]
    return ": ".join(filter(None, (" ".join(filter(None, words)), said["words"])))
