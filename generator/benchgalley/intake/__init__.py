"""Reading: the content tree from disk into records, every problem told with its place, all at once."""

from .content_tree import SiteReader, read_site
from .log_engines import Reductions, SchedulerError
from .processes import copied, cores, pool

__all__ = ["Reductions", "SchedulerError", "SiteReader", "copied", "cores", "pool", "read_site"]
