"""Reading built pages back, for the tests."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from urllib.parse import unquote, urlsplit


@dataclass
class Page:
    """What a page holds."""

    elements: list[tuple[str, dict[str, str | None]]] = field(default_factory=list)
    text: str = ""

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.elements if name == tag]

    def ids(self) -> list[str]:
        return [a["id"] for _, a in self.elements if a.get("id")]

    def links(self) -> Iterator[str]:
        for tag, attributes in self.elements:
            for name in ("href", "src", "data-runtime"):
                if attributes.get(name) and not (tag == "link" and attributes.get("rel") == "canonical"):
                    yield attributes[name]


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.page = Page()
        self._parts: list[str] = []
        self._silent = 0

    def handle_starttag(self, tag, attrs):
        self.page.elements.append((tag, dict(attrs)))
        self._silent += tag in ("script", "style", "math", "svg")

    def handle_endtag(self, tag):
        self._silent -= tag in ("script", "style", "math", "svg")

    def handle_data(self, data):
        if not self._silent:
            self._parts.append(data)


def read_page(content: bytes) -> Page:
    """Elements, attributes and visible text of a page."""
    reader = _Reader()
    reader.feed(content.decode("utf-8"))
    reader.page.text = "".join(reader._parts)
    return reader.page


def resolve(link: str, here: str) -> tuple[str, str] | None:
    """(path in the site, fragment) a relative link on the page `here` leads to; None for another host."""
    parts = urlsplit(link)
    if parts.scheme or parts.netloc:
        return None
    import posixpath

    path = posixpath.normpath(posixpath.join(posixpath.dirname(here), unquote(parts.path))) if parts.path else here
    return path, unquote(parts.fragment)
