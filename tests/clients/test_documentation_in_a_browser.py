"""The documentation and the guide in a real browser: they show what they should, and their content policy is broken by nothing.

`WARMSTEAD_REQUIRE_BROWSER=1` makes it a failure that there is no browser on this machine (Debian: `chromium`).
"""

from __future__ import annotations

import http.server
import os
import re
import shutil
import subprocess
import threading
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from typing import Any, NamedTuple

import httpx
import pytest

from warmstead.api.documentation import policy
from warmstead.questions.registry import QUESTIONS

BROWSERS = ("chromium", "chromium-browser", "google-chrome")


class Shown(NamedTuple):
    """A page as a browser shows it."""

    text: str
    complaints: list[str]


class Browser:
    """Opens pages without a window."""

    def __init__(self, program: str, home: Path) -> None:
        self._command = [
            *(
                program,
                "--headless",
                "--no-sandbox",
                "--disable-gpu",
                "--disable-dev-shm-usage",
                "--no-first-run",
            ),
            *(
                "--enable-logging=stderr",
                "--virtual-time-budget=30000",
                f"--user-data-dir={home}",
                "--dump-dom",
            ),
        ]

    def show(self, address: str) -> Shown:
        """Return what is shown at an address, and what the browser complains of."""
        done = subprocess.run([*self._command, address], capture_output=True, text=True, timeout=240)
        assert done.returncode == 0, done.stderr
        complaints = re.findall(r"CONSOLE[^]]*\] (.*)", done.stderr)
        return Shown(unescape(done.stdout), complaints)


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Browser:
    program = next((found for name in BROWSERS if (found := shutil.which(name))), None)
    if program is None:
        if os.environ.get("WARMSTEAD_REQUIRE_BROWSER") == "1":
            pytest.fail("no browser, and WARMSTEAD_REQUIRE_BROWSER is 1")
        pytest.skip("no browser")
    return Browser(program, tmp_path_factory.mktemp("browser"))


def test_the_documentation_lists_every_question_and_breaks_no_policy(browser: Browser, service: str) -> None:
    shown = browser.show(f"{service}/docs")
    assert shown.complaints == []
    for name in QUESTIONS:
        assert f'data-path="/v1/{name}"' in shown.text


@pytest.mark.parametrize("page", ["guide", "guide/house", "guide/uncertainty"])
def test_the_guide_breaks_no_policy(browser: Browser, service: str, page: str) -> None:
    shown = browser.show(f"{service}/{page}")
    assert shown.complaints == []
    assert "<h1" in shown.text


@pytest.fixture
def tampered(service: str) -> Iterator[str]:
    """Serve the documentation's page with a foreign script and a foreign picture in it, under the policy of the page as it was."""
    page = httpx.get(f"{service}/docs").content
    worse = page.replace(
        b"</body>", b"<script>document.title = 'run'</script><img src='http://192.0.2.1/x.png'></body>"
    )

    class Serving(http.server.BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(200)
            self.send_header("content-type", "text/html")
            self.send_header("content-security-policy", policy(page))
            self.end_headers()
            self.wfile.write(worse)

        def log_message(self, format: str, *args: Any) -> None:
            pass

    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Serving)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield f"http://127.0.0.1:{server.server_address[1]}/"
    server.shutdown()
    thread.join()
    server.server_close()


def test_the_policy_stops_what_is_foreign_and_the_browser_says_so(browser: Browser, tampered: str) -> None:
    shown = browser.show(tampered)
    assert "<title>run</title>" not in shown.text
    assert [line for line in shown.complaints if "script" in line.lower()]
    assert [line for line in shown.complaints if "192.0.2.1" in line]
