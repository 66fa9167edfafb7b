"""The claims room: does the prose say what the trials show?"""

from .checking import judge, judge_settings
from .restating import bind, left_over, restate
from .suggestions import Candidate, Suggestion, suggest

__all__ = ["Candidate", "Suggestion", "bind", "judge", "judge_settings", "left_over", "restate", "suggest"]
