"""Drawings of a plan as SVG. They decide nothing: every number shown is a field of the plan."""

from festoon.drawings.palette import THEMES, ThemeName
from festoon.drawings.profile import draw_profile, profile_pages

__all__ = ["THEMES", "ThemeName", "draw_profile", "profile_pages"]
