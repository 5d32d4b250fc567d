"""All writes of the certification file, a module for each noun."""

from certification.commands.packs import draw_again, freeze_record, sign_record

__all__ = ["draw_again", "freeze_record", "sign_record"]
