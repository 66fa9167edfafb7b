"""Where each page and file stands in the site, and how one page links to another.

Every link is relative, so that the site works from a folder on disk and under any address.
"""

import re
from functools import lru_cache

FRONT = "index.html"
COMPARISON = "compare.html"
LEDGER = "ledger.html"
METHODS = "methods.html"
DATA = "data.html"
CORRECTIONS = "corrections.html"
WORKSHEET = "worksheet.html"
FEED = "feed.xml"
SITEMAP = "sitemap.xml"
ROBOTS = "robots.txt"
RECORD = "record.json"

RUNTIME = "runtime/chart-runtime.js"


def write_up(slug: str) -> str:
    """The page of a write-up."""
    return f"write-ups/{slug}/index.html"


def numbers(slug: str) -> str:
    """The page with the working of every number of a write-up."""
    return f"write-ups/{slug}/numbers.html"


def archive(slug: str) -> str:
    """The dataset of a write-up."""
    return f"write-ups/{slug}/{slug}.zip"


def table(slug: str, name: str) -> str:
    """One table of the dataset on its own: `trials` or `results`."""
    return f"write-ups/{slug}/{name}.csv"


def figure(slug: str, figure_id: str) -> str:
    """One chart as a file."""
    return f"write-ups/{slug}/figures/{anchor(figure_id)}.svg"


def shared_figure(figure_id: str) -> str:
    """A chart that belongs to no single write-up, as a file."""
    return f"figures/{anchor(figure_id)}.svg"


def social(slug: str) -> str:
    """The picture beside links to a write-up."""
    return f"write-ups/{slug}/social.png"


def image(slug: str, name: str) -> str:
    """A picture of a write-up."""
    return f"write-ups/{slug}/{name if name.startswith('images/') else f'images/{name}'}"


def card(card_id: str) -> str:
    """The page of a card."""
    return f"cards/{card_id}/index.html"


def relative(target: str, here: str) -> str:
    """`target` (a path in the site, with or without a fragment) as a link on the page `here`."""
    path, hash_sign, fragment = target.partition("#")
    if path in ("", here):
        return f"{hash_sign}{fragment}" if fragment else here.rpartition("/")[2]
    return f"{_between(path, here)}{hash_sign}{fragment}"


@lru_cache(maxsize=4096)
def _between(path: str, here: str) -> str:
    to, stand = path.split("/"), here.split("/")
    shared = 0
    while shared < min(len(to), len(stand)) - 1 and to[shared] == stand[shared]:
        shared += 1
    return "../" * (len(stand) - 1 - shared) + "/".join(to[shared:])


def public(path: str) -> str:
    """The path as it stands in an absolute address: a folder's index page is the folder."""
    return path.removesuffix("index.html")


def anchor(text: str) -> str:
    """A text as an id that needs no escaping in a link; different texts stay different."""
    return re.sub(r"[^A-Za-z0-9.-]", lambda match: f"_{ord(match[0]):x}", text)
