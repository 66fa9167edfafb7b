"""Reading: the content tree from disk into records, every problem told with its place, all at once."""

from .content_tree import SiteReader, read_site
from .log_engines import Reductions, SchedulerError, cores

__all__ = ["Reductions", "SchedulerError", "SiteReader", "cores", "read_site"]
