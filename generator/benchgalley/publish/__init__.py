"""From records to a static site: pages, datasets, record, and the one module that writes."""

from .comparing import COMPARED
from .corrections import compare
from .dataset import dataset
from .discovery import sitemap
from .edition import Edition, headline_setpoint
from .pages import OF_CARD, OF_SITE, OF_WRITE_UP, edition_of, pages, templates_of
from .pieces import JOINED, pieces_of
from .record import entry_in, published_entries
from .site_pages import Cut, joined
from .site_writer import (
    KEPT,
    ForeignFolderError,
    KeptPictures,
    Printing,
    forget_others,
    keep_bytes,
    kept_bytes,
    kept_file,
    write_site,
)
from .stamps import Printed, Stamp, printed
from .templates import layouts_folder, load_templates

__all__ = [
    "COMPARED",
    "JOINED",
    "KEPT",
    "OF_CARD",
    "OF_SITE",
    "OF_WRITE_UP",
    "Cut",
    "Edition",
    "ForeignFolderError",
    "KeptPictures",
    "Printed",
    "Printing",
    "Stamp",
    "compare",
    "dataset",
    "edition_of",
    "entry_in",
    "forget_others",
    "headline_setpoint",
    "joined",
    "keep_bytes",
    "kept_bytes",
    "kept_file",
    "layouts_folder",
    "load_templates",
    "pages",
    "pieces_of",
    "printed",
    "published_entries",
    "sitemap",
    "templates_of",
    "write_site",
]
