"""Reading: the content tree from disk into records, every problem told with its place, all at once."""

from .content_tree import SiteReader, read_site
from .log_engines import Reductions, SchedulerError

__all__ = ["Reductions", "SchedulerError", "SiteReader", "read_site"]
