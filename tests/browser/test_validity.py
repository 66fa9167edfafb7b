"""The built pages against published rules: HTML, links, feed, sitemap, robots file, JSON-LD, data package.

HTML Living Standard: by its parsing algorithm (html5lib, strict), and its content models by the W3C's own checker
(npm package vnu-jar, needs Java) or else by html-validate (npm). The checkers are fetched by npm into the user's
cache the first time; without network or Node the strict parse stands alone.
"""

import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
import zipfile
from datetime import datetime
from pathlib import Path
from urllib.parse import urlsplit

import html5lib
import pytest
from lxml import etree, html

from tests.publish.page_reading import read_page, resolve
from tests.publish.test_dataset import faults

pytestmark = pytest.mark.xdist_group("browser-second")

CHECKERS = {"vnu-jar": "26.9.27", "html-validate": "10.17.0"}
"""npm packages at the versions these tests were written with; they run on Java 11 and Node 20."""


@pytest.fixture(scope="session")
def addressed(tmp_path_factory) -> Path:
    """The small sample site, built by the command: it has an address, so feed, sitemap and JSON-LD come with it."""
    folder = tmp_path_factory.mktemp("addressed")
    source, target = folder / "small_site", folder / "site"
    shutil.copytree(Path(__file__).parents[1] / "fixtures" / "small_site", source)
    done = subprocess.run(
        [sys.executable, "-m", "benchgalley", "build", str(source), "--to", str(target)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    return target


@pytest.fixture(scope="session")
def pages(built_demo, addressed) -> dict[str, tuple[Path, bytes]]:
    """Every page of both sites: name -> (folder of its site, content)."""
    return {
        f"{site.parent.name}/{path.relative_to(site).as_posix()}": (site, path.read_bytes())
        for site in (built_demo, addressed)
        for path in sorted(site.rglob("*.html"))
    }


def fetched(package: str) -> Path:
    """Folder of an npm package in the cache, installed by npm if it is not there; skips when it cannot be had."""
    cache = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "benchgalley-tests"
    folder = cache / f"{package}-{CHECKERS[package]}"
    found = folder / "node_modules" / package
    if not found.is_dir():
        npm = shutil.which("npm")
        if npm is None:
            pytest.skip("no npm to fetch an HTML checker with")
        folder.mkdir(parents=True, exist_ok=True)
        done = subprocess.run(
            [npm, "install", "--prefix", str(folder), "--ignore-scripts", "--no-audit", "--no-fund",
             f"{package}@{CHECKERS[package]}"],
            capture_output=True, text=True, check=False, timeout=240,
        )  # fmt: skip
        if done.returncode != 0 or not found.is_dir():
            pytest.skip(f"no network to fetch {package}: {done.stderr[-200:]}")
    return found


def test_pages_parse_without_an_error(pages):
    """HTML Living Standard 13.2: every page of the small site; of the demo one of each kind (the parser is slow)."""
    parsed = 0
    for _, content in pages.values():
        if len(content) > 250_000:
            continue
        html5lib.HTMLParser(strict=True).parse(content.decode())
        parsed += 1
    assert parsed >= 15


def test_the_checker_of_the_w3c_finds_no_error(built_demo, addressed):
    """Content models, attributes, ARIA in HTML; it also reads the style sheets and the SVG files."""
    java = shutil.which("java")
    if java is None:
        pytest.skip("the W3C checker needs Java; html-validate stands for it")
    jar = fetched("vnu-jar") / "build" / "dist" / "vnu.jar"
    # The pages of all numbers are long and built alike: the small site's two stand for the demo's.
    files = [str(p) for p in sorted(addressed.rglob("*.html"))]
    files += [str(p) for p in sorted(built_demo.rglob("*.html")) if p.name != "numbers.html"]
    styles = [str(p) for p in sorted(built_demo.rglob("*.css"))]
    pictures = [str(p) for p in sorted(addressed.rglob("*.svg"))]
    command = [java, "-Xss8m", "-jar", str(jar), "--format", "json", "--stdout"]
    found = set()
    for kind in ([*files], ["--css", *styles], ["--svg", *pictures]):
        done = subprocess.run([*command, *kind], capture_output=True, text=True, check=False)
        for message in json.loads(done.stdout)["messages"]:
            # It takes the policy's 'self' for another origin than the file it reads, and data blocks for scripts.
            if "Content Security Policy" in message["message"]:
                continue
            if message["type"] == "error" or message.get("subType") == "fatal":
                place = message["url"].rpartition("/site/")[2]
                found.add((message["message"], place if len(found) < 30 else ""))
    assert not found, sorted(found)[:10]


def test_html_validate_finds_no_error(pages, built_demo, tmp_path):
    """The second checker, without Java: content models, ARIA, headings, duplicate ids."""
    if shutil.which("node") is None:
        pytest.skip("no Node")
    program = fetched("html-validate") / "bin" / "html-validate.mjs"
    rules = {
        "root": True,
        "extends": ["html-validate:standard"],
        # Style of writing, not validity; long titles are the author's; `role=img` on the picture's box is meant.
        "rules": dict.fromkeys(("no-trailing-whitespace", "void-style", "long-title", "prefer-native-element"), "off"),
    }
    (tmp_path / "rules.json").write_text(json.dumps(rules))
    chosen = [str(path) for path in sorted(built_demo.glob("*.html")) if path.name != "ledger.html"]
    chosen += [str(next(built_demo.glob(f"{kind}/*/index.html"))) for kind in ("write-ups", "cards")]
    done = subprocess.run(
        ["node", str(program), "--formatter", "json", "--config", str(tmp_path / "rules.json"), *chosen],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    found = {
        (m["ruleId"], m["message"], Path(f["filePath"]).name) for f in json.loads(done.stdout) for m in f["messages"]
    }
    assert not found, sorted(found)[:15]


def test_every_internal_link_and_fragment_resolves(pages):
    """Of both sites as they stand on disk: pages, styles, scripts, pictures, downloads, rows."""
    read = {name: read_page(content) for name, (_, content) in pages.items()}
    ids = {name: set(page.ids()) for name, page in read.items()}
    checked, broken = 0, []
    for name, page in read.items():
        site, here = name.partition("/")[::2]
        folder = pages[name][0]
        assert len(ids[name]) == len(page.ids()), f"ids of {name} are unique"
        for link in set(page.links()):
            goal = resolve(link, here)
            if goal is None:
                continue
            path, fragment = goal
            anchored = not fragment or not path.endswith(".html") or fragment in ids.get(f"{site}/{path}", ())
            if not anchored or not (folder / path).is_file():
                broken.append((name, link))
            checked += 1
    print(f"{checked} links of {len(read)} pages resolve")
    assert not broken, broken[:10]
    assert checked > 3000


def test_no_link_leaves_for_a_host_nobody_named(pages):
    """Reference 3, ids and links: other hosts are those of the author and of the cited sources in prose, no more."""
    links = {
        link
        for _, content in pages.values()
        for link in html.fromstring(content.decode()).xpath("//@href | //@src | //@action | //@data-runtime")
    }
    named = {urlsplit(BASE).hostname} | {
        urlsplit(link).hostname
        for _, content in pages.values()
        for link in html.fromstring(content.decode()).xpath("//link[@rel='canonical']/@href")
    }
    assert all(host.endswith(".example") for host in named), "invented sites have invented hosts (RFC 2606)"
    hosts = {urlsplit(link).hostname for link in links}
    assert hosts <= {*named, None}, hosts - named
    schemes = {urlsplit(link).scheme for link in links}
    assert schemes <= {"", "https", "mailto"}, schemes


BASE = "https://bench.example/"
"""Address of the small sample site."""
ATOM = "{http://www.w3.org/2005/Atom}"


def test_the_feed_keeps_rfc_4287(addressed):
    """RFC 4287 4.1.1, 4.1.2, 4.2.6, 4.2.7: one id, title, updated; links; RFC 3339 dates; permanent ids."""
    feed = etree.parse(addressed / "feed.xml").getroot()
    own = [e.get("href") for e in feed.findall(f"{ATOM}link") if e.get("rel") == "self"]
    assert own == ["https://bench.example/feed.xml"]
    entries = feed.findall(f"{ATOM}entry")
    assert len(entries) == 2
    for part in (feed, *entries):
        for name in ("id", "title", "updated"):
            assert len(part.findall(ATOM + name)) == 1, name
        datetime.fromisoformat(part.findtext(f"{ATOM}updated").replace("Z", "+00:00"))
        assert urlsplit(part.findtext(f"{ATOM}id")).scheme == "https"
        kinds = {e.get("type", "text") for e in (*part.findall(f"{ATOM}title"), *part.findall(f"{ATOM}summary"))}
        assert kinds <= {"text", "html"}, kinds
    newest = max(e.findtext(f"{ATOM}updated") for e in entries)
    assert feed.findtext(f"{ATOM}updated") == newest, "the feed is as new as its newest entry, not as the build"
    for entry in entries:
        (link,) = [e.get("href") for e in entry.findall(f"{ATOM}link") if e.get("rel") == "alternate"]
        path = link.removeprefix("https://bench.example/") + "index.html"
        assert (addressed / path).is_file()


def test_sitemap_canonical_and_robots_name_the_same_pages(addressed):
    """sitemaps.org 0.9, RFC 6596, RFC 9309."""
    space = "{http://www.sitemaps.org/schemas/sitemap/0.9}"
    root = etree.parse(addressed / "sitemap.xml").getroot()
    assert root.tag == f"{space}urlset"
    listed = {url.findtext(f"{space}loc") for url in root}
    canonical = set()
    for path in addressed.rglob("*.html"):
        (link,) = html.parse(path).xpath("//link[@rel='canonical']/@href")
        canonical.add(link)
    assert listed == canonical
    for url in root:
        if (changed := url.findtext(f"{space}lastmod")) is not None:
            datetime.fromisoformat(changed)
    robots = (addressed / "robots.txt").read_bytes().decode("utf-8").splitlines()
    assert f"Sitemap: {'https://bench.example/sitemap.xml'}" in robots
    assert all(re.fullmatch(r"(User-agent|Allow|Disallow|Sitemap): \S+", line) for line in robots if line)


def blocks(path: Path, kind: str) -> list[dict]:
    return [json.loads(text) for text in html.parse(path).xpath(f"//script[@type='{kind}']/text()")]


def test_json_ld_describes_the_files_that_are_there(addressed):
    """schema.org Dataset, and the profile of reference 1.5; sizes and hashes are those of the published files."""
    seen = 0
    for path in addressed.glob("write-ups/*/index.html"):
        (dataset,) = blocks(path, "application/ld+json")
        assert faults(dataset, "profile-dataset-jsonld.schema.json") == []
        assert dataset["@context"] in ("https://schema.org", "https://schema.org/") and dataset["@type"] == "Dataset"
        assert 50 <= len(dataset["description"]) <= 5000
        for name in ("name", "license", "creator", "datePublished", "version", "isAccessibleForFree"):
            assert dataset[name] not in ("", None, []), name
        assert dataset["variableMeasured"] and dataset["measurementTechnique"]
        for variable in dataset["variableMeasured"]:
            assert variable["@type"] == "PropertyValue" and variable["name"]
            assert re.match(r"UCUM:.", variable.get("unitCode", "UCUM:1")), variable
        for download in dataset["distribution"]:
            assert download["@type"] == "DataDownload" and download["encodingFormat"]
            file = addressed / download["contentUrl"].removeprefix("https://bench.example/")
            content = file.read_bytes()
            assert download["sha256"] == hashlib.sha256(content).hexdigest()
            assert re.match(rf"{len(content)}\b", str(download["contentSize"])), download
            seen += 1
    assert seen >= 4


def test_data_packages_keep_their_schema(built_demo, addressed):
    """Data Package 2.0 by its own schema; hashes and sizes of the resources; checksums of the whole archive."""
    checked = 0
    for archive in (*built_demo.rglob("*.zip"), *addressed.rglob("*.zip")):
        with zipfile.ZipFile(archive) as opened:
            package = json.loads(opened.read("datapackage.json"))
            assert faults(package, "datapackage-2.0.schema.json") == [], archive.name
            for resource in package["resources"]:
                content = opened.read(resource["path"])
                assert resource["hash"].removeprefix("sha256:") == hashlib.sha256(content).hexdigest()
                assert resource["bytes"] == len(content)
            for line in opened.read("SHA256SUMS").decode().splitlines():
                digest, _, path = line.partition("  ")
                assert hashlib.sha256(opened.read(path)).hexdigest() == digest
                checked += 1
    assert checked > 50
