"""What lets other programs find the site: feed, sitemap, robots file. Only with an address of the site."""

from collections.abc import Mapping
from xml.etree import ElementTree as Xml

from . import page_paths
from .edition import Edition, last_changed

_ATOM = "http://www.w3.org/2005/Atom"
_SITEMAP = "http://www.sitemaps.org/schemas/sitemap/0.9"


def feed(edition: Edition) -> Mapping[str, bytes]:
    """`feed.xml` (Atom, RFC 4287 4.1): ids are the permanent addresses; `updated` moves only with a revision."""
    settings = edition.site.settings
    if not settings.address:
        return {}
    newest = edition.newest_first()
    root = Xml.Element("feed", {"xmlns": _ATOM, "xml:lang": settings.language})
    _add(root, "id", settings.address)
    _add(root, "title", settings.title.text)
    _add(root, "subtitle", settings.summary.text)
    _add(root, "updated", _instant(max(map(last_changed, newest), default="1980-01-01")))
    _add(_add(root, "author"), "name", settings.author)
    _add(root, "link", rel="self", href=settings.address + page_paths.FEED)
    _add(root, "link", rel="alternate", href=settings.address)
    for write_up in newest:
        address = settings.address + page_paths.public(page_paths.write_up(write_up.slug))
        entry = _add(root, "entry")
        _add(entry, "id", address)
        _add(entry, "title", write_up.title.text)
        _add(entry, "published", _instant(write_up.published))
        _add(entry, "updated", _instant(last_changed(write_up)))
        _add(entry, "link", rel="alternate", href=address)
        hazards = edition.cautions(write_up.slug).hazards
        said = [f"{h.word.value}: {h.source} {h.consequence} {h.avoidance}" for h in hazards]
        _add(entry, "summary", " ".join([write_up.summary.text, *said, settings.notice]).strip())
    return {page_paths.FEED: _bytes(root)}


def sitemap(edition: Edition, pages: Mapping[str, bytes]) -> Mapping[str, bytes]:
    """`sitemap.xml` and `robots.txt` (RFC 9309): every page, each once."""
    settings = edition.site.settings
    if not settings.address:
        return {page_paths.ROBOTS: b"User-agent: *\nAllow: /\n"}
    changed = {page_paths.write_up(w.slug): last_changed(w) for w in edition.site.write_ups.values()}
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
