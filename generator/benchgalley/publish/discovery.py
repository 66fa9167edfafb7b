"""What lets other programs find the site: feed, sitemap, robots file. Only with an address of the site."""

from collections.abc import Iterable, Mapping
from xml.etree import ElementTree as Xml

from . import page_paths
from .edition import Edition

_ATOM = "http://www.w3.org/2005/Atom"
_SITEMAP = "http://www.sitemaps.org/schemas/sitemap/0.9"


def feed(edition: Edition) -> Mapping[str, bytes]:
    """`feed.xml` (Atom, RFC 4287 4.1): ids are the permanent addresses; `updated` moves only with a revision."""
    settings = edition.site.settings
    if not settings.address:
        return {}
    published, changed, words = (edition.facts(name) for name in ("published", "changed", "feed"))
    root = Xml.Element("feed", {"xmlns": _ATOM, "xml:lang": settings.language})
    _add(root, "id", settings.address)
    _add(root, "title", settings.title.text)
    _add(root, "subtitle", settings.summary.text)
    _add(root, "updated", _instant(max(changed.values(), default="1980-01-01")))
    _add(_add(root, "author"), "name", settings.author)
    _add(root, "link", rel="self", href=settings.address + page_paths.FEED)
    _add(root, "link", rel="alternate", href=settings.address)
    for slug in sorted(published, key=lambda slug: (published[slug], slug), reverse=True):
        address = settings.address + page_paths.public(page_paths.write_up(slug))
        entry = _add(root, "entry")
        _add(entry, "id", address)
        _add(entry, "title", words[slug]["title"])
        _add(entry, "published", _instant(published[slug]))
        _add(entry, "updated", _instant(changed[slug]))
        _add(entry, "link", rel="alternate", href=address)
        _add(entry, "summary", words[slug]["summary"])
    return {page_paths.FEED: _bytes(root)}


def sitemap(edition: Edition, pages: Iterable[str]) -> Mapping[str, bytes]:
    """`sitemap.xml` and `robots.txt` (RFC 9309): every page, each once."""
    settings = edition.site.settings
    if not settings.address:
        return {page_paths.ROBOTS: b"User-agent: *\nAllow: /\n"}
    changed = {page_paths.write_up(slug): day for slug, day in edition.facts("changed").items()}
    root = Xml.Element("urlset", {"xmlns": _SITEMAP})
    for path in sorted(p for p in pages if p.endswith(".html")):
        url = _add(root, "url")
        _add(url, "loc", settings.address + page_paths.public(path))
        if path in changed:
            _add(url, "lastmod", changed[path])
    robots = f"User-agent: *\nAllow: /\nSitemap: {settings.address}{page_paths.SITEMAP}\n"
    return {page_paths.SITEMAP: _bytes(root), page_paths.ROBOTS: robots.encode()}


def _add(parent: Xml.Element, tag: str, text: str | None = None, **attributes: str) -> Xml.Element:
    child = Xml.SubElement(parent, tag, attributes)
    child.text = text
    return child


def _instant(day: str) -> str:
    return f"{day}T00:00:00Z"


def _bytes(root: Xml.Element) -> bytes:
    Xml.indent(root)
    text = Xml.tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="utf-8"?>\n{text}\n'.encode()
