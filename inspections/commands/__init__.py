"""All writes about enclosed areas, points, discrepancies and visits."""

from inspections.commands.areas import (
    add_area,
    answer_check,
    ask_for,
    check_number,
    close_area,
    correct_area,
    drop_requirement,
    judged,
    refuse_closed,
    refuse_dropped,
    reopen_area,
    show_photo,
    take_away_photo,
    withdraw_area,
)
from inspections.commands.signing import STATEMENT, sign_area

__all__ = [
    "STATEMENT",
    "add_area",
    "answer_check",
    "ask_for",
    "check_number",
    "close_area",
    "correct_area",
    "drop_requirement",
    "judged",
    "refuse_closed",
    "refuse_dropped",
    "reopen_area",
    "show_photo",
    "sign_area",
    "take_away_photo",
    "withdraw_area",
]
