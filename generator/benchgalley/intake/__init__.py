"""Reading: the content tree from disk into records, every problem told with its place, all at once."""

from .content_tree import read_site

__all__ = ["read_site"]
