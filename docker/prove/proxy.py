"""Checks of the composition through its proxy, at http://127.0.0.1:8080; run by prove.sh, which has started it.

Reads the proxy's log with `podman logs`, and kills replicas with `podman kill`.
"""

from __future__ import annotations

import gzip
import json
import subprocess
import time
import urllib.error
import urllib.request
from collections import Counter
from email.message import Message
from typing import NamedTuple

BASE = "http://127.0.0.1:8080"
QUESTION = {"construction": {"kind": "declared", "u_value_w_m2k": 1.4, "source": "certificate"}}
MEBIBYTE = 1024 * 1024


class Answer(NamedTuple):
    """What came back."""

    status: int
    headers: dict[str, str]
    body: bytes


def ask(path: str, body: bytes | None = None, **headers: str) -> Answer:
    """Send one request."""
    given = {"content-type": "application/json"} | {
        name.replace("_", "-"): value for name, value in headers.items()
    }
    request = urllib.request.Request(BASE + path, body, given)
    try:
        with urllib.request.urlopen(request, timeout=30) as response:
            return Answer(response.status, _lower(response.headers), response.read())
    except urllib.error.HTTPError as error:
        return Answer(error.code, _lower(error.headers), error.read())


def _lower(headers: Message) -> dict[str, str]:
    return {name.lower(): value for name, value in headers.items()}


def run(*command: str) -> str:
    """Run a command and return what it printed."""
    return subprocess.run(
        command, check=True, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    ).stdout


def replicas_of_log() -> Counter[str]:
    """Return how many of the logged questions each replica answered."""
    log = run("podman", "logs", "warmstead_proxy_1").splitlines()
    lines = [line for line in log if "/v1/u-value" in line]
    return Counter(line.split("replica=")[1].split(" replica_status")[0].split(", ")[-1] for line in lines)


def locked_down() -> None:
    """The engine was told what compose.yaml says, for each container."""
    for name in ("replica-1", "replica-2", "proxy"):
        (told,) = json.loads(run("podman", "inspect", f"warmstead_{name}_1"))
        host = told["HostConfig"]
        assert host["ReadonlyRootfs"] is True, name
        assert told["EffectiveCaps"] in (None, []), (name, told["EffectiveCaps"])
        assert any(option.startswith("no-new-privileges") for option in host["SecurityOpt"]), name
        assert told["Config"]["User"] == "10001:10001", name
        assert min(host["Memory"], host["NanoCpus"], host["PidsLimit"]) > 0, name
    print(
        "three containers: read-only, no rights, a user without name, limits on memory, cores and processes"
    )


def main() -> None:
    """Check everything; the first failure ends it."""
    locked_down()
    question = json.dumps(QUESTION).encode()

    for _ in range(40):
        assert ask("/v1/u-value", question).status == 200
    shares = replicas_of_log()
    assert len(shares) == 2, shares
    assert min(shares.values()) >= 10, shares
    print(f"40 questions, answered by both replicas: {sorted(shares.values())}")

    answer = ask("/v1/u-value", question)
    request_id = answer.headers["x-request-id"]
    assert f"id={request_id}" in run("podman", "logs", "warmstead_proxy_1"), request_id
    print("an answer's request id stands in the proxy's log")

    document = ask("/openapi.json", accept_encoding="gzip")
    assert document.headers["content-encoding"] == "gzip"
    plain = ask("/openapi.json", accept_encoding="identity")
    assert gzip.decompress(document.body) == plain.body
    print(f"compressed: {len(plain.body)} bytes become {len(document.body)}")

    # A body above the service's limit and under the proxy's, then one above both.
    for size, whose in ((8 * MEBIBYTE + 1, "service"), (9 * MEBIBYTE + 1, "proxy")):
        refused = ask("/v1/u-value", b" " * size)
        assert refused.status == 413, refused
        assert refused.headers["content-type"].startswith("application/problem+json"), refused.headers
        assert json.loads(refused.body)["type"] == "urn:warmstead:problem:too-large"
        assert (b"proxy" in refused.body) == (whose == "proxy"), refused.body
        print(f"a body of {size} bytes is refused by the {whose}, as a problem document")

    assert ask("/metrics").status == 404
    assert ask("/v1/u-value?workings=secret-in-a-query", b'{"secret": "in-a-body"}').status == 422
    for container in ("warmstead_proxy_1", "warmstead_replica-1_1", "warmstead_replica-2_1"):
        assert "secret" not in run("podman", "logs", container), container
    print("metrics are not shown outside; neither query nor body is in any log")

    run("podman", "kill", "--signal", "KILL", "warmstead_replica-1_1")
    statuses = Counter(ask("/v1/u-value", question).status for _ in range(40))
    assert statuses[200] >= 39, statuses
    print(f"one replica killed, 40 questions: {statuses[200]} answered, {40 - statuses[200]} not")

    run("podman", "stop", "--time", "20", "warmstead_replica-2_1")
    gone = ask("/v1/u-value", question)
    assert gone.status == 503, gone
    assert gone.headers["retry-after"] == "2"
    assert json.loads(gone.body)["status"] == 503
    print("no replica left: 503 as a problem document, with Retry-After")

    run("podman", "start", "warmstead_replica-1_1", "warmstead_replica-2_1")
    for _ in range(600):
        if ask("/v1/u-value", question).status == 200:
            break
        time.sleep(0.1)
    else:
        raise AssertionError("the composition does not come back")
    print("replicas started again: answered again, without touching the proxy")


main()
