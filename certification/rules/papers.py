"""Papers of the file: their states, and when to ask for them."""

from dataclasses import dataclass
from datetime import date

from calc.times import in_months

NOT_STARTED, DRAFT, READY, FILED = "not_started", "draft", "ready", "filed"
# How each state is drawn; every one has its word beside it.
MARKS = {NOT_STARTED: "not-started", DRAFT: "work", READY: "in-place", FILED: "sent"}
OWN = "own-"


def ask_by(due: date | None, lead_months: int) -> date | None:
    """The last day to ask for a paper that is needed so many months before; None without a day or a lead."""
    return in_months(due, -lead_months) if due and lead_months else None


def lead_words(months: int) -> str:
    """How long before a paper is needed, in words."""
    names = {1: "one month", 2: "two months", 3: "three months"}
    return f"needed {names.get(months, f'{months} months')} before" if months else ""


@dataclass(frozen=True)
class Timely:
    """How a day stands against today: `word` for the page, whether it is past or near."""

    day: date
    past: bool
    soon: bool


def timely(day: date | None, today: date, soon: int = 30) -> Timely | None:
    """How a day stands; near is within so many days."""
    if day is None:
        return None
    return Timely(day, day < today, today <= day and (day - today).days <= soon)


def wrong_with(state: str, due_on: date | None, filed_on: date | None, today: date) -> tuple[str, str, str] | None:
    """Why a paper cannot be told so: code, sentence, field. None where it can."""
    if state == FILED and filed_on is None:
        return "no_day", "Say on which day it was filed.", "filed_on"
    if state != FILED and filed_on is not None:
        return "not_filed", "It has a day of filing but is not filed. Choose Filed, or take the day out.", "state_word"
    if filed_on is not None and filed_on > today:
        return "in_future", "That day lies in the future. Say it is filed once it is.", "filed_on"
    if due_on is not None and not 1990 <= due_on.year <= 2100:
        return "far_off", "That day is too far off. Check the year.", "due_on"
    return None
