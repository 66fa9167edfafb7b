"""`preview`: shows the site to this machine only, rebuilds on save, shows problems in place, ends cleanly."""

import http.client
import json
import re
import signal
import subprocess
import sys
import time
from pathlib import Path
from urllib.request import urlopen

import pytest

PATIENCE_S = 60


class Preview:
    """A preview running as a person runs it."""

    def __init__(self, site, temporary):
        self.site, self.temporary = site, temporary
        self.process = subprocess.Popen(
            [sys.executable, "-m", "benchgalley", "preview", str(site), "--port", "0"],
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=_environment(temporary),
            # Tests started in the background inherit "ignore Ctrl-C"; a person's terminal does not.
            preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
        )  # fmt: skip
        self.said = []
        self.address = re.search(r"http://\S+/", self.until("preview: http"))[0]

    def until(self, start):
        for line in self.process.stdout:
            self.said.append(line)
            if line.startswith(start):
                return line
        raise AssertionError("ended early:\n" + "".join(self.said))

    def get(self, path=""):
        with urlopen(self.address + path, timeout=PATIENCE_S) as answer:
            return answer.read().decode()

    def problems(self):
        return json.loads(self.get("preview/problems.json"))

    def end(self):
        self.process.send_signal(signal.SIGINT)
        rest, _ = self.process.communicate(timeout=PATIENCE_S)
        self.said.append(rest)
        return self.process.returncode


def _environment(temporary):
    import os

    return {**os.environ, "TMPDIR": str(temporary)}


@pytest.fixture
def preview(tmp_path):
    site, temporary = tmp_path / "site", tmp_path / "temporary"
    temporary.mkdir()
    subprocess.run([sys.executable, "-m", "benchgalley", "begin", str(site)], check=True, capture_output=True)
    running = Preview(site, temporary)
    yield running
    if running.process.poll() is None:
        running.process.kill()
    running.process.communicate()


def replace(site, old, new):
    file = site / "content" / "write-ups" / "first" / "write-up.md"
    text = file.read_text("utf-8")
    assert old in text
    file.write_text(text.replace(old, new), "utf-8")


def test_it_rebuilds_on_save_and_shows_problems_beside_the_last_good_page(preview):
    page = preview.get("write-ups/first/")
    assert "This page was made by" in page and "/preview/preview.js" in page
    assert preview.problems()["problems"] == []

    replace(preview.site, "This page was made by", "This page was begun by")
    preview.until("preview: built (2)")
    assert "This page was begun by" in preview.get("write-ups/first/")

    replace(preview.site, "[205 W](claim:stock/board-power)", "[250 W](claim:stock/board-power)")
    preview.until("preview: not built")
    told = preview.problems()
    assert told["stale"] and len(told["problems"]) == 1
    assert re.match(r"content/write-ups/first/write-up.md:\d+:\d+: disagrees", told["problems"][0]["text"])
    assert "^~~~" in told["problems"][0]["text"]
    assert "This page was begun by" in preview.get("write-ups/first/")

    assert not (preview.site / "site").exists(), "nothing is published"
    assert preview.end() == 0
    assert "Traceback" not in "".join(preview.said)
    assert list(Path(preview.temporary).iterdir()) == [], "nothing is left behind"


def test_only_this_machine_is_served(preview):
    """Bound to the loopback address; a foreign page that resolves its own name to it is turned away."""
    host, port = re.match(r"http://([^:]+):(\d+)/", preview.address).groups()
    assert host == "127.0.0.1"
    connection = http.client.HTTPConnection(host, int(port), timeout=PATIENCE_S)
    connection.request("GET", "/", headers={"Host": f"bench.example:{port}"})
    assert connection.getresponse().status == 421
    for outside in ("../../content/site.yaml", "%2e%2e/%2e%2e/content/site.yaml"):
        connection = http.client.HTTPConnection(host, int(port), timeout=PATIENCE_S)
        connection.request("GET", "/" + outside)
        assert connection.getresponse().status == 404


def test_an_open_page_is_told_of_each_build(preview):
    host, port = re.match(r"http://([^:]+):(\d+)/", preview.address).groups()
    connection = http.client.HTTPConnection(host, int(port), timeout=PATIENCE_S)
    connection.request("GET", "/preview/changes")
    stream = connection.getresponse()
    assert stream.readline() == b"data: 1\n"
    replace(preview.site, "This page was made by", "This page was begun by")
    deadline = time.monotonic() + PATIENCE_S
    while (line := stream.readline()) != b"data: 2\n":
        assert time.monotonic() < deadline and line in (b"\n", b": waiting\n")


def test_a_taken_port_is_one_clear_message(tmp_path, preview):
    port = re.search(r":(\d+)/", preview.address)[1]
    done = subprocess.run(
        [sys.executable, "-m", "benchgalley", "preview", str(preview.site), "--port", port],
        capture_output=True, text=True, check=False, timeout=PATIENCE_S,
    )  # fmt: skip
    assert done.returncode == 2
    assert "--port 0" in done.stderr and "Traceback" not in done.stderr


@pytest.mark.browser
@pytest.mark.xdist_group("browser")
def test_the_open_page_reloads_and_carries_the_problems(preview, browser):
    context = browser.new_context()
    page = context.new_page()
    complaints = []
    page.on("console", lambda m: complaints.append(m.text) if m.type in ("error", "warning") else None)
    page.goto(preview.address + "write-ups/first/")
    replace(preview.site, "This page was made by", "This page was begun by")
    page.get_by_text("This page was begun by").wait_for(timeout=PATIENCE_S * 1000)
    assert page.locator(".preview-problems").count() == 0
    replace(preview.site, "[205 W](claim:stock/board-power)", "[250 W](claim:stock/board-power)")
    panel = page.locator("aside.preview-problems")
    panel.wait_for(timeout=PATIENCE_S * 1000)
    assert "1 problem" in panel.inner_text() and "disagrees" in panel.inner_text()
    assert page.get_by_text("This page was begun by").count() == 1
    assert complaints == []
    context.close()


@pytest.mark.browser
@pytest.mark.xdist_group("browser")
def test_a_site_that_never_built_shows_its_problems_alone(tmp_path, browser):
    site, temporary = tmp_path / "site", tmp_path / "temporary"
    temporary.mkdir()
    subprocess.run([sys.executable, "-m", "benchgalley", "begin", str(site)], check=True, capture_output=True)
    replace(site, "[205 W](claim:stock/board-power)", "[250 W](claim:stock/board-power)")
    running = Preview(site, temporary)
    try:
        context = browser.new_context()
        page = context.new_page()
        page.goto(running.address)
        panel = page.locator("main.preview-problems")
        panel.wait_for(timeout=PATIENCE_S * 1000)
        assert "write-up.md" in panel.inner_text()
        context.close()
        assert running.end() == 0
    finally:
        if running.process.poll() is None:
            running.process.kill()
