"""From records to a static site: pages, datasets, record, and the one module that writes."""

from .corrections import compare
from .dataset import dataset
from .pages import pages
from .record import published_record
from .site_writer import ForeignFolderError, KeptPictures, keep_reduction, kept_pictures, write_site

__all__ = [
    "ForeignFolderError",
    "KeptPictures",
    "compare",
    "dataset",
    "keep_reduction",
    "kept_pictures",
    "pages",
    "published_record",
    "write_site",
]
