"""Who may call: callers on this machine, callers with a key, or everybody whom a proxy in front lets through."""

from __future__ import annotations

from urllib.parse import unquote_plus

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from warmstead.api.keys import Keys
from warmstead.api.loopback import is_loopback
from warmstead.api.problems import PROBLEM_JSON, parameter_error, problem
from warmstead.api.replies import Reply, send_reply
from warmstead.api.settings import Settings
from warmstead.exchange.problem_kinds import KEY_IN_ADDRESS, KEY_UNKNOWN

OPEN_TO_ALL = frozenset({"/healthz", "/readyz"})
METRICS = "/metrics"
READING = frozenset({"GET", "HEAD", "OPTIONS"})
"""What the cell of a spreadsheet sends, which can show no key."""
KEYS_IN_QUERIES = frozenset(
    {
        "access_token",
        "api-key",
        "api_key",
        "apikey",
        "auth",
        "authorization",
        "bearer",
        "key",
        "token",
        "x-api-key",
    }
)
"""Names under which keys are put into addresses elsewhere. No question has a parameter of such a name (a test says so)."""
FORWARDED = frozenset(
    {b"forwarded", b"via", b"x-forwarded-for", b"x-forwarded-host", b"x-forwarded-proto", b"x-real-ip"}
)
"""Headers by which a proxy shows itself. One that sends none of them looks like a caller on its own machine."""

HOLDER = "warmstead.key"
"""Member of a request's scope that names the key it came with."""

HOW_TO_SEND = "send the header 'Authorization: Bearer KEY'; whoever runs this service gives keys out"
NOT_OPEN = (
    "this service answers callers on its own machine only. Whoever runs it opens it: with keys (WARMSTEAD_KEYS_FILE), or "
    "behind a proxy that checks who calls (WARMSTEAD_BEHIND_PROXY=true)"
)
METRICS_NOT_OPEN = (
    "the figures are for callers with a key or, where nobody needs one, on this machine; "
    "WARMSTEAD_OPEN_METRICS=true opens them"
)


class Access:
    """Lets a request through to the application, or answers it with a problem document."""

    def __init__(self, app: ASGIApp, settings: Settings) -> None:
        """Take the application and who may call it.

        Raises:
            UnusableKeys: there is a file of keys, and it cannot be used.
        """
        self.app = app
        self._keys = None if settings.keys_file is None else Keys(settings.keys_file)
        self._behind_proxy = settings.behind_proxy
        self._open_cells = settings.open_cells
        self._open_metrics = settings.open_metrics

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        refused = self._refusal(scope) if scope["type"] == "http" else None
        if refused is not None:
            await send_reply(send, refused)
        elif HOLDER in scope and scope["method"] in READING:
            await self.app(scope, receive, _for_the_caller_alone(send))
        else:
            await self.app(scope, receive, send)

    def _refusal(self, scope: Scope) -> Reply | None:
        query: bytes = scope["query_string"]
        if query and (name := key_in_query(query)) is not None:
            return _in_query(name)
        path = scope["path"].removeprefix(scope.get("root_path", ""))
        if path in OPEN_TO_ALL or (path == METRICS and self._open_metrics):
            return None
        if self._keys is not None:
            reading = scope["method"] in READING and path != METRICS
            return None if self._open_cells and reading else self._without_key(scope, self._keys)
        if self._behind_proxy and path != METRICS:
            return None
        if on_this_machine(scope):
            return None
        return _refused(403, problem(403, METRICS_NOT_OPEN if path == METRICS else NOT_OPEN))

    def _without_key(self, scope: Scope, keys: Keys) -> Reply | None:
        given = [value for name, value in scope["headers"] if name == b"authorization"]
        if not given:
            return _challenge(f"this needs a key: {HOW_TO_SEND}")
        scheme, _, secret = given[0].strip().partition(b" ")
        if len(given) > 1 or scheme.lower() != b"bearer":
            detail = f"the one header Authorization has to be of the scheme Bearer: {HOW_TO_SEND}"
            return _challenge(detail, "invalid_request")
        holder = keys.holder(secret.strip())
        if holder is None:
            detail = f"this key is not in force: {HOW_TO_SEND}"
            return _challenge(detail, "invalid_token")
        scope[HOLDER] = holder
        return None


def key_in_query(query: bytes) -> str | None:
    """Return the name of the parameter by which a query seems to hold a key; nothing, where none does."""
    for part in query.split(b"&"):
        # Percent signs could hide a name from a look at the bytes, but not from those who read addresses in logs.
        name = unquote_plus(part.partition(b"=")[0].decode("latin-1")).strip().lower()
        if name in KEYS_IN_QUERIES:
            return name
    return None


def on_this_machine(scope: Scope) -> bool:
    """Return whether a request comes from this machine and for itself, not for somebody else by a proxy."""
    client = scope.get("client")
    if client is None or not is_loopback(client[0]):
        return False
    return FORWARDED.isdisjoint([name for name, _ in scope["headers"]])


def _for_the_caller_alone(send: Send) -> Send:
    """Keep answers that needed a key out of caches that others share, which would give them to callers without one."""

    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            message["headers"] = [
                (name, value.replace(b"public", b"private") if name == b"cache-control" else value)
                for name, value in message.get("headers", ())
            ]
        await send(message)

    return sending


def _in_query(name: str) -> Reply:
    detail = f"a key does not belong in an address, where logs and histories keep it; replace it, and {HOW_TO_SEND}"
    error = parameter_error(name, "not_allowed_here", detail)
    return _refused(422, problem(422, detail, [error], KEY_IN_ADDRESS))


def _challenge(detail: str, error: str | None = None) -> Reply:
    kind = None if error is None else KEY_UNKNOWN
    challenge = 'Bearer realm="warmstead"' + ("" if error is None else f', error="{error}"')
    return _refused(401, problem(401, detail, kind=kind), ("www-authenticate", challenge))


def _refused(status: int, document: bytes, *headers: tuple[str, str]) -> Reply:
    return Reply(status, PROBLEM_JSON, document, (("cache-control", "no-store"), *headers))
