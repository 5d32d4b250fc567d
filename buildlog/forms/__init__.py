"""What is typed and what phones say about work, turned into values."""

from buildlog.forms.sessions import WORDS, SessionForm, WithdrawForm, initial_for_new, initial_of
from buildlog.forms.tray import TrayForm, assembly_choices, initial_from_photos

__all__ = [
    "WORDS",
    "SessionForm",
    "TrayForm",
    "WithdrawForm",
    "assembly_choices",
    "initial_for_new",
    "initial_from_photos",
    "initial_of",
]
