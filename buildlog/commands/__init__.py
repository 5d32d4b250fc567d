"""All writes about work: sessions, timers, what phones captured."""

from buildlog.commands.sessions import (
    attach_photos,
    correct_session,
    end_break,
    join_timer,
    leave_timer,
    log_session,
    source_of,
    start_timer,
    stop_timer,
    take_break,
    version_of,
    withdraw_session,
)

__all__ = [
    "attach_photos",
    "correct_session",
    "end_break",
    "join_timer",
    "leave_timer",
    "log_session",
    "source_of",
    "start_timer",
    "stop_timer",
    "take_break",
    "version_of",
    "withdraw_session",
]
