"""Labels and part cards on paper. The same things at the same address give the same bytes."""

from inspections.pages.printing import Job, NoRoom, print_sheets
from inspections.pages.sheets import SHEETS, larger
from inspections.pages.wording import Label, label_of

__all__ = ["SHEETS", "Job", "Label", "NoRoom", "label_of", "larger", "print_sheets"]
