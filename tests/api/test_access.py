"""Who may call: each way to open the service, each kind of caller, and what is answered to those who may not."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest
from pydantic import ValidationError

from warmstead.api import settings as settings_module
from warmstead.api.access import FORWARDED, KEYS_IN_QUERIES
from warmstead.api.app import app as open_app
from warmstead.api.app import create_app
from warmstead.api.keys import NewKey, UnusableKeys, new_key
from warmstead.api.settings import Settings, UnusableSetting, from_environment
from warmstead.tables import table, table_names

Ask = Callable[..., httpx.Response]

HERE = ("127.0.0.1", 50000)
ELSEWHERE = ("192.0.2.7", 50000)
WALL = {"construction": {"kind": "declared", "u_value_w_m2k": 1.4, "source": "an invented certificate"}}
CELL = "/v1/radiator-output?standard_output_w=1500&flow_temperature_c=45&return_temperature_c=40&room_temperature_c=20"
READ = (
    CELL,
    "/v1/tables",
    "/v1/codes",
    "/guide",
    "/docs",
    "/openapi.json",
    "/static-offline-docs/swagger-ui.css",
)


def ask(
    app: Any, path: str, *, client: Any = ELSEWHERE, method: str = "GET", **request: Any
) -> httpx.Response:
    async def exchange() -> httpx.Response:
        transport = httpx.ASGITransport(app=app, client=client)
        async with httpx.AsyncClient(transport=transport, base_url="http://service.test") as sender:
            return await sender.request(method, path, **request)

    return asyncio.run(exchange())


def post(app: Any, **request: Any) -> httpx.Response:
    return ask(app, "/v1/u-value", method="POST", json=WALL, **request)


def bearer(key: NewKey) -> dict[str, str]:
    return {"Authorization": f"Bearer {key.secret}"}


@pytest.fixture(scope="module")
def key() -> NewKey:
    return new_key("an-integrator")


@pytest.fixture(scope="module")
def keys_file(key: NewKey, tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("keys") / "keys"
    file.write_text(f"# who\n\n{new_key('another').line}\n{key.line}\n")
    return file


@pytest.fixture(scope="module")
def keyed(keys_file: Path) -> Any:
    return create_app(Settings(keys_file=keys_file))


@pytest.fixture(scope="module")
def with_open_cells(keys_file: Path) -> Any:
    return create_app(Settings(keys_file=keys_file, open_cells=True))


@pytest.fixture(scope="module")
def behind_proxy() -> Any:
    return create_app(Settings(behind_proxy=True))


def refused(response: httpx.Response, status: int, words: str) -> None:
    assert response.status_code == status, response.text
    assert response.headers["content-type"] == "application/problem+json"
    assert response.headers["cache-control"] == "no-store"
    assert words in response.text
    assert ("www-authenticate" in response.headers) == (status == 401)


# --- Told nothing: this machine only ----------------------------------------------------------------


@pytest.mark.parametrize("host", ["127.0.0.1", "127.8.9.1", "::1", "::ffff:127.0.0.1"])
def test_without_settings_this_machine_is_answered(host: str) -> None:
    assert post(open_app, client=(host, 1)).status_code == 200


@pytest.mark.parametrize(
    "client", [ELSEWHERE, ("10.0.0.1", 1), ("2001:db8::1", 1), ("::ffff:192.0.2.7", 1), ("a-name", 1), None]
)
def test_without_settings_nobody_else_is(client: Any) -> None:
    refused(post(open_app, client=client), 403, "WARMSTEAD_KEYS_FILE")
    refused(ask(open_app, "/v1/tables", client=client), 403, "WARMSTEAD_BEHIND_PROXY")


@pytest.mark.parametrize("header", sorted(name.decode() for name in FORWARDED))
def test_a_proxy_on_this_machine_that_nobody_told_of_is_not_this_machine(header: str) -> None:
    refused(post(open_app, client=HERE, headers={header: "127.0.0.1"}), 403, "WARMSTEAD_BEHIND_PROXY")


# --- Keys -------------------------------------------------------------------------------------------


def test_a_key_in_force_is_let_in(keyed: Any, key: NewKey) -> None:
    assert post(keyed, headers=bearer(key)).status_code == 200
    assert post(keyed, headers={"authorization": f"bearer  {key.secret} "}).status_code == 200


@pytest.mark.parametrize("client", [HERE, ELSEWHERE])
def test_without_a_key_nobody_is_let_in_this_machine_neither(keyed: Any, client: Any) -> None:
    answer = post(keyed, client=client)
    refused(answer, 401, "Authorization: Bearer KEY")
    assert answer.headers["www-authenticate"] == 'Bearer realm="warmstead"'
    for path in READ:
        assert ask(keyed, path, client=client).status_code == 401, path


@pytest.mark.parametrize(
    "shown",
    [
        "Bearer",
        "Bearer ",
        "Bearer wrong",
        "Bearer " + "x" * 100_000,
        "Bearer wärmer".encode(),
        "Basic dXNlcjpwYXNz",
        "Bearer KEY KEY",
        "KEY",
        "Bearer KEYx",
    ],
)
def test_what_is_no_key_in_force_is_not_let_in(keyed: Any, key: NewKey, shown: str | bytes) -> None:
    if isinstance(shown, str):
        shown = shown.replace("KEY", key.secret)
    answer = post(keyed, headers={"Authorization": shown})
    refused(answer, 401, "Bearer KEY")
    assert "error=" in answer.headers["www-authenticate"]
    assert key.secret not in answer.text


def test_two_headers_are_not_let_in_though_each_is_right(keyed: Any, key: NewKey) -> None:
    twice = [("Authorization", f"Bearer {key.secret}")] * 2
    refused(post(keyed, headers=twice), 401, "the one header")


def test_only_the_hash_is_no_key(keyed: Any, key: NewKey) -> None:
    shown = key.line.split("sha256:")[1]
    refused(post(keyed, headers={"Authorization": f"Bearer {shown}"}), 401, "not in force")


def test_a_body_is_not_waited_for_where_the_key_is_missing(keyed: Any) -> None:
    sent = []

    async def unasked() -> Any:
        raise AssertionError("the body was asked for")

    async def send(message: Any) -> None:
        sent.append(message)

    scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": "POST", "scheme": "http",
        "path": "/v1/house-loss", "query_string": b"", "root_path": "", "headers": [], "client": ELSEWHERE,
    }  # fmt: skip
    asyncio.run(keyed(scope, unasked, send))
    assert sent[0]["status"] == 401


def test_what_needed_a_key_is_kept_by_no_cache_that_others_share(
    keyed: Any, with_open_cells: Any, key: NewKey
) -> None:
    for app, headers, cache in (
        (keyed, bearer(key), "private, max-age=3600"),
        (with_open_cells, {}, "public, max-age=3600"),
    ):
        answer = ask(app, "/v1/tables", headers=headers)
        assert answer.headers["cache-control"] == cache
        again = ask(app, "/v1/tables", headers=headers | {"If-None-Match": answer.headers["etag"]})
        assert again.status_code == 304
        assert again.headers["cache-control"] == cache


# --- Cells, a proxy, figures, health ----------------------------------------------------------------


@pytest.mark.parametrize("path", READ)
def test_open_cells_opens_what_is_asked_by_get(with_open_cells: Any, path: str) -> None:
    assert ask(with_open_cells, path).status_code == 200
    assert ask(with_open_cells, path, method="HEAD").status_code == 200


def test_open_cells_opens_nothing_else(with_open_cells: Any, key: NewKey) -> None:
    assert ask(with_open_cells, CELL, method="OPTIONS").status_code == 204
    refused(post(with_open_cells), 401, "needs a key")
    assert post(with_open_cells, headers=bearer(key)).status_code == 200
    refused(ask(with_open_cells, "/metrics"), 401, "needs a key")


def test_behind_a_proxy_everybody_is_let_in(behind_proxy: Any) -> None:
    assert post(behind_proxy).status_code == 200
    assert post(behind_proxy, client=None, headers={"X-Forwarded-For": "203.0.113.9"}).status_code == 200


def test_behind_a_proxy_keys_count_where_there_are_some(keys_file: Path, key: NewKey) -> None:
    both = create_app(Settings(behind_proxy=True, keys_file=keys_file))
    refused(post(both), 401, "needs a key")
    assert post(both, headers=bearer(key)).status_code == 200


def test_figures_are_for_this_machine_or_for_a_key(behind_proxy: Any, keyed: Any, key: NewKey) -> None:
    assert ask(behind_proxy, "/metrics", client=HERE).status_code == 200
    refused(
        ask(behind_proxy, "/metrics", client=HERE, headers={"X-Forwarded-For": "203.0.113.9"}), 403, "figures"
    )
    refused(ask(behind_proxy, "/metrics"), 403, "WARMSTEAD_OPEN_METRICS")
    refused(ask(keyed, "/metrics", client=HERE), 401, "needs a key")
    assert ask(keyed, "/metrics", headers=bearer(key)).status_code == 200


def test_figures_can_be_opened(keys_file: Path) -> None:
    for opened in (Settings(open_metrics=True, keys_file=keys_file), Settings(open_metrics=True)):
        app = create_app(opened)
        assert ask(app, "/metrics").status_code == 200
        assert post(app).status_code in (401, 403)


@pytest.mark.parametrize("path", ["/healthz", "/readyz"])
def test_health_is_open_to_all(keyed: Any, path: str) -> None:
    for app in (keyed, open_app):
        assert ask(app, path).status_code == 200
        assert ask(app, path, method="HEAD").status_code == 200


@pytest.mark.parametrize(
    "path", ["/healthz/", "//healthz", "/healthz/..", "/healthz%2f", "/HEALTHZ", "/readyz;a"]
)
def test_only_the_very_paths_of_health_are_open(keyed: Any, path: str) -> None:
    assert ask(keyed, path).status_code == 401


def test_under_a_prefix_the_paths_are_the_same(keyed: Any) -> None:
    async def under_a_prefix(scope: Any, receive: Any, send: Any) -> None:
        await keyed({**scope, "root_path": "/heat"}, receive, send)

    assert ask(under_a_prefix, "/heat/healthz").status_code == 200
    assert ask(under_a_prefix, "/heat/v1/tables").status_code == 401


# --- Never in an address ----------------------------------------------------------------------------


@pytest.mark.parametrize("name", sorted(KEYS_IN_QUERIES))
def test_a_key_in_a_query_is_refused_with_the_reason(keyed: Any, key: NewKey, name: str) -> None:
    for app in (keyed, open_app):
        for path in ("/v1/tables", "/healthz", "/docs"):
            answer = ask(app, f"{path}?{name}={key.secret}", headers=bearer(key))
            refused(answer, 422, "does not belong in an address")
            assert answer.json()["errors"][0]["parameter"] == name
            assert key.secret not in answer.text


@pytest.mark.parametrize("query", ["a=b&Key=x", "access%5Ftoken=x", "%6bey=x", "+key=x", "token"])
def test_a_key_in_a_query_is_found_however_it_is_written(query: str) -> None:
    refused(ask(open_app, f"/v1/codes?{query}", client=HERE), 422, "does not belong")


def test_no_parameter_has_a_name_that_keys_have_elsewhere() -> None:
    named = {
        parameter["name"]
        for item in open_app.openapi()["paths"].values()
        for operation in item.values()
        for parameter in operation.get("parameters", [])
        if parameter["in"] == "query"
    }
    columns = {column.name for name in table_names() for column in table(name).columns}
    assert len(named) > 20
    assert len(columns) > 20
    assert not (named | columns) & KEYS_IN_QUERIES


# --- What the environment may say -------------------------------------------------------------------


def test_the_environment_says_the_same_as_the_options(keys_file: Path) -> None:
    told = from_environment(
        {
            "WARMSTEAD_KEYS_FILE": str(keys_file),
            "WARMSTEAD_BEHIND_PROXY": "true",
            "WARMSTEAD_OPEN_CELLS": "1",
            "WARMSTEAD_ALLOWED_ORIGINS": "https://heat.example, http://localhost:5173",
        }
    )
    assert told.keys_file == keys_file
    assert told.behind_proxy
    assert told.open_cells
    assert not told.open_metrics
    assert told.allowed_origins == ("https://heat.example", "http://localhost:5173")


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("BEHIND_PROXY", "perhaps"),
        ("KEYS_FILE", ""),
        ("ALLOWED_ORIGINS", "*"),
        ("ALLOWED_ORIGINS", "https://heat.example/"),
        ("ALLOWED_ORIGINS", "https://*.example"),
        ("ALLOWED_ORIGINS", "heat.example"),
        ("ALLOWED_ORIGINS", "null"),
        ("LOG_FORMAT", "xml"),
    ],
)
def test_what_the_environment_may_not_say(name: str, value: str) -> None:
    with pytest.raises(UnusableSetting, match=f"WARMSTEAD_{name}"):
        from_environment({f"WARMSTEAD_{name}": value})


def test_a_keys_file_that_cannot_be_used_ends_the_start(tmp_path: Path) -> None:
    with pytest.raises(UnusableKeys, match="cannot be read"):
        create_app(Settings(keys_file=tmp_path / "none"))


def test_settings_do_not_change() -> None:
    with pytest.raises(ValidationError):
        settings_module.SETTINGS.behind_proxy = True  # type: ignore[misc]  # that it cannot be done is the test


# --- Browsers ---------------------------------------------------------------------------------------

ORIGIN = "https://heat.example"


@pytest.fixture(scope="module")
def for_a_page(keys_file: Path) -> Any:
    return create_app(Settings(keys_file=keys_file, allowed_origins=(ORIGIN,)))


def test_a_page_of_an_allowed_origin_may_ask_with_its_key(for_a_page: Any, key: NewKey) -> None:
    asking = {
        "Origin": ORIGIN,
        "Access-Control-Request-Method": "POST",
        "Access-Control-Request-Headers": "authorization, content-type",
    }
    preflight = ask(for_a_page, "/v1/house-loss", method="OPTIONS", headers=asking)
    assert preflight.status_code == 200
    assert preflight.headers["access-control-allow-origin"] == ORIGIN
    assert "access-control-allow-credentials" not in preflight.headers
    for answer in (
        post(for_a_page, headers=bearer(key) | {"Origin": ORIGIN}),
        post(for_a_page, headers={"Origin": ORIGIN}),
    ):
        assert answer.headers["access-control-allow-origin"] == ORIGIN
        assert "Origin" in answer.headers["vary"]


@pytest.mark.parametrize(
    "origin", ["https://heat.example.evil.test", "http://heat.example", "https://other.example", "null"]
)
def test_no_other_page_may(for_a_page: Any, key: NewKey, origin: str) -> None:
    answer = post(for_a_page, headers=bearer(key) | {"Origin": origin})
    assert "access-control-allow-origin" not in answer.headers
    asking = {"Origin": origin, "Access-Control-Request-Method": "POST"}
    assert ask(for_a_page, "/v1/house-loss", method="OPTIONS", headers=asking).status_code == 400


def test_without_a_list_no_page_of_another_origin_may_ask() -> None:
    answer = post(open_app, client=HERE, headers={"Origin": ORIGIN})
    assert not [name for name in answer.headers if name.startswith("access-control")]
