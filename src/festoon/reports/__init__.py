"""Paper: the chairside sheet and the blank chart form as PDF. They decide nothing: every number is a field of the plan."""

from festoon.reports.form import write_blank_form
from festoon.reports.sheet import profile_room, write_sheet
from festoon.reports.typeset import PAPERS, Paper

__all__ = ["PAPERS", "Paper", "profile_room", "write_blank_form", "write_sheet"]
