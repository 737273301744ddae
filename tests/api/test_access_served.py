"""Who may call, at real addresses: what `warmstead serve` and other server commands start, and what they answer from where."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from pathlib import Path
from typing import Any

import httpx
import psutil
import pytest
from click.testing import CliRunner

from warmstead.api.keys import new_key
from warmstead.api.settings import Settings, variable
from warmstead.cli import main

WALL = {"construction": {"kind": "declared", "u_value_w_m2k": 1.4, "source": "an invented certificate"}}


@pytest.fixture(autouse=True)
def told_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Begin with an environment that says nothing; what a command puts into it is taken out again."""
    for name in Settings.model_fields:
        monkeypatch.setenv(variable(name), "")
        monkeypatch.delenv(variable(name))


@pytest.fixture
def never_served(monkeypatch: pytest.MonkeyPatch) -> list[dict[str, Any]]:
    """Let the command do everything but serve; gives what it would have served with."""
    calls: list[dict[str, Any]] = []
    monkeypatch.setattr("uvicorn.run", lambda *_, **options: calls.append(options))
    return calls


def own_address() -> str:
    """Return an address of this machine by which others could reach it."""
    for addresses in psutil.net_if_addrs().values():
        for address in addresses:
            if address.family == socket.AF_INET and not address.address.startswith("127."):
                return str(address.address)
    pytest.skip("this machine has no address but its loopback")


@pytest.mark.parametrize(
    "host", ["0.0.0.0", "::", "", "192.0.2.7", "heat.example", "::ffff:0.0.0.0", "127.0.0.1.example"]
)
def test_at_an_address_for_others_it_does_not_start_unless_it_is_told_who_may_call(
    host: str, never_served: list[dict[str, Any]]
) -> None:
    refused = CliRunner().invoke(main, ["serve", "--host", host])
    assert refused.exit_code == 2
    assert never_served == []
    for way in ("--keys-file", "--behind-proxy", "--host 127.0.0.1", "warmstead key new"):
        assert way in refused.output


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "::1", "127.0.0.2"])
def test_for_this_machine_it_starts_as_it_is(host: str, never_served: list[dict[str, Any]]) -> None:
    assert CliRunner().invoke(main, ["serve", "--host", host]).exit_code == 0
    assert len(never_served) == 1
    assert never_served[0]["access_log"] is False


def test_with_keys_or_behind_a_proxy_it_starts_anywhere(
    never_served: list[dict[str, Any]], tmp_path: Path
) -> None:
    file = tmp_path / "keys"
    file.write_text(new_key("site").line)
    for options in (["--keys-file", str(file)], ["--behind-proxy"]):
        assert CliRunner().invoke(main, ["serve", "--host", "0.0.0.0", *options]).exit_code == 0
    assert len(never_served) == 2


def test_what_else_opens_something_opens_no_address(never_served: list[dict[str, Any]]) -> None:
    options = ["--open-cells", "--open-metrics", "--allowed-origin", "https://heat.example"]
    assert CliRunner().invoke(main, ["serve", "--host", "0.0.0.0", *options]).exit_code == 2


@pytest.mark.parametrize(
    ("options", "reason"),
    [
        (["--keys-file", "/no/such/file"], "cannot be read"),
        (["--keys-file", "/dev/null"], "holds no key"),
        (["--allowed-origin", "*"], "WARMSTEAD_ALLOWED_ORIGINS"),
    ],
)
def test_an_option_that_cannot_be_used_is_told_at_the_start(
    options: list[str], reason: str, never_served: list[dict[str, Any]]
) -> None:
    refused = CliRunner().invoke(main, ["serve", *options])
    assert refused.exit_code == 2
    assert reason in refused.output
    assert never_served == []


def test_a_folder_for_figures_that_cannot_be_used_is_told_at_the_start(
    never_served: list[dict[str, Any]], tmp_path: Path
) -> None:
    told = {"WARMSTEAD_METRICS_FOLDER": str(tmp_path / "none")}
    refused = CliRunner(env=told).invoke(main, ["serve", "--workers", "2"])
    assert refused.exit_code == 2
    assert "WARMSTEAD_METRICS_FOLDER" in refused.output
    assert never_served == []
    assert CliRunner(env=told).invoke(main, ["serve"]).exit_code == 0


def test_another_server_command_answers_this_machine_only(serve: Any) -> None:
    address = own_address()
    served = serve("warmstead.api.app:app", "--host", "0.0.0.0", command=("uvicorn",))
    port = served.address.rpartition(":")[2]
    assert httpx.post(f"{served.address}/v1/u-value", json=WALL).status_code == 200
    refused = httpx.post(f"http://{address}:{port}/v1/u-value", json=WALL)
    assert refused.status_code == 403
    assert "WARMSTEAD_KEYS_FILE" in refused.json()["detail"]
    assert httpx.get(f"http://{address}:{port}/healthz").status_code == 200
    # That server believes a proxy on this machine, and anybody could say to be one.
    for header in ("X-Forwarded-For", "Forwarded"):
        said = {header: "127.0.0.1"}
        assert httpx.post(f"http://{address}:{port}/v1/u-value", json=WALL, headers=said).status_code == 403


def test_keys_are_rotated_without_a_restart(serve: Any, tmp_path: Path) -> None:
    old, new = new_key("old"), new_key("new")
    file = tmp_path / "keys"
    file.write_text(old.line)
    served = serve("--host", "0.0.0.0", "--keys-file", str(file))

    def status(key: Any) -> int:
        headers = {"Authorization": f"Bearer {key.secret}"}
        return httpx.post(f"{served.address}/v1/u-value", json=WALL, headers=headers).status_code

    def becomes(key: Any, wanted: int) -> None:
        for _ in range(100):
            if status(key) == wanted:
                return
        pytest.fail(f"it stays {status(key)}")

    assert (status(old), status(new)) == (200, 401)
    file.write_text(f"{old.line}\n{new.line}\n")
    becomes(new, 200)
    assert status(old) == 200
    file.write_text(f"{new.line}\n")
    becomes(old, 401)
    assert status(new) == 200
    assert "keys file read again: 2 in force" in served.written()


def test_the_reference_cases_can_be_put_to_a_service_that_asks_for_a_key(serve: Any, tmp_path: Path) -> None:
    key = new_key("a-build")
    file = tmp_path / "keys"
    file.write_text(key.line)
    served = serve("--keys-file", str(file))
    command = ["check", "--url", served.address, "--question", "u-value", "--fail-fast"]
    passed = CliRunner(env={"WARMSTEAD_KEY": key.secret}).invoke(main, command)
    assert passed.exit_code == 0, passed.output
    assert CliRunner().invoke(main, command).exit_code != 0


def test_a_keys_file_that_cannot_be_used_ends_another_server_command(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "uvicorn", "warmstead.api.app:app", "--port", "0"],
        env={**os.environ, "WARMSTEAD_KEYS_FILE": str(tmp_path / "none")},
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert done.returncode != 0
    assert "the keys file cannot be read" in done.stderr
