"""What every answer tells a browser, whatever it answers."""

from __future__ import annotations

import re
from base64 import b64encode
from collections.abc import Callable
from hashlib import sha256

import httpx
import pytest

from warmstead.api.documentation import policy

Send = Callable[..., httpx.Response]

NOTHING = "default-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
ANSWERS = [
    ("GET", "/healthz", 200),
    ("GET", "/v1/tables", 200),
    ("HEAD", "/v1/tables", 200),
    ("GET", "/metrics", 200),
    ("GET", "/openapi.json", 200),
    ("GET", "/static-offline-docs/swagger-ui-bundle.js", 200),
    ("GET", "/nothing", 404),
    ("DELETE", "/v1/u-value", 405),
    ("POST", "/v1/u-value", 400),
    ("GET", "/v1/codes?key=x", 422),
    ("OPTIONS", "/v1/u-value", 204),
]


@pytest.mark.parametrize(("method", "path", "status"), ANSWERS)
def test_every_answer_lets_a_browser_do_nothing_with_it(
    method: str, path: str, status: int, send: Send
) -> None:
    answer = send(method, path)
    assert answer.status_code == status
    assert answer.headers["content-security-policy"] == NOTHING
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["referrer-policy"] == "no-referrer"


@pytest.mark.parametrize("path", ["/docs", "/guide", "/guide/house"])
def test_pages_have_a_policy_of_their_own_and_each_header_once(path: str, send: Send) -> None:
    answer = send("GET", path)
    (own,) = answer.headers.get_list("content-security-policy")
    assert own != NOTHING
    assert "default-src 'none'" in own
    assert "frame-ancestors 'none'" in own
    assert len(answer.headers.get_list("x-content-type-options")) == 1
    assert len(answer.headers.get_list("referrer-policy")) == 1


def test_an_answer_about_a_house_is_kept_by_nobody(ask: Send, send: Send) -> None:
    wall = {"construction": {"kind": "declared", "u_value_w_m2k": 1.4, "source": "an invented certificate"}}
    assert ask("u-value", wall).headers["cache-control"] == "no-store"
    assert ask("u-value", {}).headers["cache-control"] == "no-store"
    assert "max-age" in send("GET", "/v1/tables").headers["cache-control"]


def test_the_documentation_runs_its_own_small_script_and_no_other(send: Send) -> None:
    answer = send("GET", "/docs")
    (script,) = re.findall(r"<script>(.*?)</script>", answer.text, re.DOTALL)
    allowed = f"'sha256-{b64encode(sha256(script.encode()).digest()).decode()}'"
    assert f"script-src 'self' {allowed};" in answer.headers["content-security-policy"]
    assert "http" not in re.sub(r"<!--.*?-->", "", answer.text)
    assert policy(answer.content.replace(b"ui =", b"ux =")) != policy(answer.content)
