"""The Dockerfile, the composition and the manifests say the same of the image; `docker/prove.sh` runs them."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest
import yaml
from click.testing import CliRunner

from warmstead.api import settings
from warmstead.cli import main
from warmstead.version import __version__

DOCKER = Path(__file__).parents[2] / "docker"
COMPOSE: dict[str, Any] = yaml.safe_load((DOCKER / "compose.yaml").read_text())
DEPLOYMENT = yaml.safe_load((DOCKER / "kubernetes/deployment.yaml").read_text())
CONTAINER: dict[str, Any] = DEPLOYMENT["spec"]["template"]["spec"]["containers"][0]
REPLICAS = ("replica-1", "replica-2")


def instructions() -> list[tuple[str, str]]:
    """Return the Dockerfile's instructions, continued lines joined, comments left out."""
    lines = [line for line in (DOCKER / "Dockerfile").read_text().splitlines() if not line.startswith("#")]
    joined = re.sub(r"\\\n\s*", " ", "\n".join(lines))
    return [(name, rest) for name, _, rest in (line.partition(" ") for line in joined.splitlines() if line)]


def last(name: str) -> str:
    return [rest for found, rest in instructions() if found == name][-1]


def test_both_stages_begin_from_the_one_base() -> None:
    bases = [rest.split(" AS ")[0] for name, rest in instructions() if name == "FROM"]
    assert bases == ["${BASE}"] * 2
    assert re.fullmatch(r"BASE=python:3\.11[-.\w]*(@sha256:[0-9a-f]{64})?", last("ARG"))


def test_the_user_is_a_number_and_the_same_everywhere() -> None:
    assert re.fullmatch(r"[1-9]\d*:[1-9]\d*", last("USER"))
    context = DEPLOYMENT["spec"]["template"]["spec"]["securityContext"]
    assert last("USER") == f"{context['runAsUser']}:{context['runAsGroup']}"
    assert {service["user"] for service in COMPOSE["services"].values()} == {last("USER")}


def test_the_command_is_one_that_the_service_has() -> None:
    assert json.loads(last("ENTRYPOINT")) == ["warmstead"]
    command = json.loads(last("CMD"))
    help_text = CliRunner().invoke(main, [command[0], "--help"]).output
    options = [word for word in command if word.startswith("--")]
    assert options == ["--host", "--port", "--workers"]
    assert all(option in help_text for option in options)
    assert command[command.index("--port") + 1] == last("EXPOSE")


def test_the_image_starts_only_if_it_is_told_who_may_call(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in settings.Settings.model_fields:
        monkeypatch.delenv(settings.variable(name), raising=False)
    refused = CliRunner().invoke(main, json.loads(last("CMD")))
    assert refused.exit_code == 2
    assert "--behind-proxy" in refused.output
    environment = COMPOSE["services"][REPLICAS[0]]["environment"]
    assert settings.from_environment(environment).behind_proxy


def test_the_build_sees_all_that_the_wheel_is_made_of() -> None:
    project = tomllib.loads((DOCKER.parent / "pyproject.toml").read_text())
    wheel = project["tool"]["hatch"]["build"]["targets"]["wheel"]
    made_of = {
        *wheel["packages"],
        *wheel["force-include"],
        project["project"]["readme"],
        *project["project"]["license-files"],
    }
    seen = re.findall(r"(?m)^!(.+)$", (DOCKER.parent / ".dockerignore").read_text())
    assert {
        path for path in made_of if not any(f"{path}/".startswith(f"{whole}/") for whole in seen)
    } == set()


def test_packages_come_by_their_hashes_and_as_wheels() -> None:
    commands = [rest for name, rest in instructions() if name == "RUN"]
    fetching = re.findall(r"--requirement \S+", " ".join(commands))
    assert fetching == ["--requirement service/constraints.txt", "--requirement /runtime.txt"]
    assert len(re.findall(r"--require-hashes --only-binary :all: --requirement", " ".join(commands))) == len(
        fetching
    )


@pytest.mark.parametrize("name", COMPOSE["services"])
def test_every_service_is_locked_down_and_limited(name: str) -> None:
    service = COMPOSE["services"][name]
    assert service["read_only"] is True
    assert service["cap_drop"] == ["ALL"]
    assert service["security_opt"] == ["no-new-privileges:true"]
    assert set(service["deploy"]["resources"]["limits"]) == {"cpus", "memory", "pids"}
    assert not [path for path in service.get("volumes", []) if not path.endswith(":ro")]


def test_replicas_are_reached_through_the_proxy_only() -> None:
    assert COMPOSE["networks"]["inside"]["internal"] is True
    for name in REPLICAS:
        assert list(COMPOSE["services"][name]["networks"]) == ["inside"]
        assert "ports" not in COMPOSE["services"][name]
    configured = re.findall(r"(?m)^ +server (\S+):8080 ", (DOCKER / "proxy/nginx.conf").read_text())
    assert tuple(configured) == REPLICAS


def test_replicas_are_told_only_what_the_service_knows() -> None:
    known = {settings.variable(name) for name in settings.Settings.model_fields}
    told = {*COMPOSE["services"][REPLICAS[0]]["environment"], *(given["name"] for given in CONTAINER["env"])}
    assert told
    assert told <= known


def test_the_proxy_passes_on_a_little_more_than_the_service_takes() -> None:
    (limit,) = re.findall(r"client_max_body_size (\d+)m;", (DOCKER / "proxy/nginx.conf").read_text())
    for given in (
        COMPOSE["services"][REPLICAS[0]]["environment"]["WARMSTEAD_MAXIMUM_BODY_BYTES"],
        {variable["name"]: variable["value"] for variable in CONTAINER["env"]}[
            "WARMSTEAD_MAXIMUM_BODY_BYTES"
        ],
    ):
        assert 0 < int(limit) * 1024 * 1024 - int(given) <= 1024 * 1024


def test_the_image_has_the_version_of_the_service() -> None:
    images = {CONTAINER["image"], *(COMPOSE["services"][name]["image"] for name in REPLICAS)}
    assert images == {f"warmstead:{__version__}"}
