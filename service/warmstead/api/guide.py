"""The user's guide as pages to read and to print: the Markdown of `warmstead/guide/`, made into HTML when first asked for."""

from __future__ import annotations

import re
from base64 import b64encode
from collections.abc import Sequence
from functools import cache
from hashlib import sha256
from html import escape
from importlib.resources import files
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import FastAPI, Path
from starlette.requests import Request
from starlette.responses import Response

from warmstead.api.caching import cached
from warmstead.api.problems import PROBLEM_JSON, problem
from warmstead.questions.registry import QUESTIONS

if TYPE_CHECKING:
    from markdown_it import MarkdownIt
    from markdown_it.token import Token

FIRST_PAGE = "index"
PAGES = (
    "house",
    *QUESTIONS,
    "batch",
    "workbook",
    "spreadsheets",
    "callers",
    "access",
    "running",
    "observing",
)
"""Pages after the first one, in the order to read them: the house document, each question, how other programs ask, how it is run."""
HTML = "text/html; charset=utf-8"

STYLE = """
:root { color-scheme: light dark; --ink: #1c1f21; --soft: #5b6165; --line: #d5d8da; --paper: #ffffff; --inset: #f3f4f5; }
@media (prefers-color-scheme: dark) {
  :root { --ink: #dfe2e4; --soft: #9aa1a6; --line: #3d4246; --paper: #17191b; --inset: #212427; }
}
* { box-sizing: border-box; }
body { margin: 0; background: var(--paper); color: var(--ink); font: 1rem/1.55 system-ui, sans-serif; }
header, main { max-width: 60rem; margin: 0 auto; padding: 0 1.25rem; }
header { padding-top: .9rem; }
header ul { display: flex; flex-wrap: wrap; gap: .25rem 1.2rem; margin: 0; padding: 0 0 .7rem; list-style: none; font-size: .9rem;
  border-bottom: 1px solid var(--line); }
main { padding-bottom: 4rem; }
a { color: inherit; text-decoration-color: var(--soft); text-underline-offset: .18em; }
a[aria-current] { font-weight: 600; text-decoration: none; }
h1, h2, h3 { line-height: 1.25; text-wrap: balance; }
h1 { font-size: 1.75em; margin: 1.6rem 0 .8rem; }
h2 { font-size: 1.25em; margin: 1.76em 0 .5em; padding-top: .55em; border-top: 1px solid var(--line); }
h3 { font-size: 1.05em; margin: 1.6rem 0 .4rem; }
p, ul, ol { margin: .6rem 0; }
p, li { max-width: 46rem; }
li { margin: .2rem 0; }
code { font: .875em/1.5 ui-monospace, "DejaVu Sans Mono", monospace; overflow-wrap: break-word; }
pre, .table { overflow-x: auto; margin: .8rem 0; }
pre { padding: .75rem .9rem; background: var(--inset); border: 1px solid var(--line); border-radius: 4px;
  font-size: .8125em; line-height: 1.4; }
pre code { font-size: inherit; line-height: inherit; overflow-wrap: normal; }
figure { margin: 1rem 0; }
figure pre { margin: 0; border-radius: 0 0 4px 4px; }
figcaption { padding: .3rem .9rem; border: 1px solid var(--line); border-bottom: 0; border-radius: 4px 4px 0 0;
  color: var(--soft); font-size: .8125em; }
table { border-collapse: collapse; font-size: .9em; line-height: 1.45; }
th, td { padding: .38em .9em .38em 0; border-bottom: 1px solid var(--line); text-align: left; vertical-align: top; }
th { color: var(--soft); font-weight: 600; vertical-align: bottom; }
th:last-child, td:last-child { padding-right: 0; }
td code { white-space: nowrap; }
th code { font-weight: inherit; }
.right { text-align: right; font-variant-numeric: tabular-nums; }
.centre { text-align: center; }
nav.contents { font-size: .9rem; }
nav.contents ul { columns: 16rem; padding-left: 1.1rem; }
@media print {
  @page { margin: 18mm 16mm; }
  :root { --ink: #000; --soft: #444; --line: #bbb; --paper: #fff; --inset: #fff; }
  body { font-size: 9.5pt; }
  header, nav.contents { display: none; }
  header, main { max-width: none; padding: 0; }
  h2, h3 { break-after: avoid; }
  tr, figcaption { break-inside: avoid; }
  figcaption { break-after: avoid; }
  pre { white-space: pre-wrap; }
  td code { white-space: normal; }
  a { text-decoration: none; }
}
"""
"""The one stylesheet. It stands within each page, so that a saved page stays whole."""

SECURITY_HEADERS = {
    "Content-Security-Policy": "default-src 'none'; "
    f"style-src 'sha256-{b64encode(sha256(STYLE.encode()).digest()).decode()}'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
}
"""Nothing is loaded, run, sent or framed; only the stylesheet of exactly this content counts."""


def add_guide(app: FastAPI) -> None:
    """Give the application the pages of the user's guide."""
    for path, endpoint in (("/guide", first_page), ("/guide/{page}", one_page)):
        app.router.add_api_route(path, endpoint, methods=["GET"], include_in_schema=False)


async def first_page(request: Request) -> Response:
    """Show the guide's first page."""
    return cached(request, html(FIRST_PAGE), HTML, SECURITY_HEADERS)


async def one_page(request: Request, page: Annotated[str, Path()]) -> Response:
    """Show one page of the guide."""
    if page not in PAGES:
        detail = f"no such page; /guide is the first one, and after it: {', '.join(PAGES)}"
        return Response(problem(404, detail), 404, media_type=PROBLEM_JSON)
    return cached(request, html(page), HTML, SECURITY_HEADERS)


def markdown(page: str) -> str:
    """Return a page as it is written."""
    return files("warmstead").joinpath("guide", f"{page}.md").read_text(encoding="utf-8")


@cache
def html(page: str) -> bytes:
    """Return a page as HTML.

    Args:
        page: `index`, or one of `PAGES`.
    """
    tokens = _parser().parse(markdown(page))
    _finish(tokens, page)
    sections = [
        (str(token.attrs["id"]), tokens[index + 1].content)
        for index, token in enumerate(tokens)
        if token.type == "heading_open" and token.tag == "h2"
    ]
    introduction, rest = _divided(tokens)
    body = _rendered(introduction, page) + _contents(sections) + _rendered(rest, page)
    title = escape(f"{_title(page)} · Warmstead")
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{title}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n"
        f"<header><nav>{_navigation(page)}</nav></header>\n<main>\n{body}</main>\n</body>\n</html>\n"
    ).encode()


def _divided(tokens: list[Token]) -> tuple[list[Token], list[Token]]:
    """Divide a page before its first section."""
    first = next((index for index, token in enumerate(tokens) if token.tag == "h2"), len(tokens))
    return tokens[:first], tokens[first:]


def _rendered(tokens: Sequence[Token], page: str) -> str:
    parser = _parser()
    return str(parser.renderer.render(tokens, parser.options, {"page": page}))


@cache
def _parser() -> MarkdownIt:
    # Only a reader of the guide needs it; a service that is asked questions starts without it.
    from markdown_it import MarkdownIt

    parser = MarkdownIt("commonmark", {"html": False}).enable("table")
    parser.add_render_rule("code_inline", _code)
    parser.add_render_rule("fence", _fence)
    parser.add_render_rule("table_open", _table_open)
    parser.add_render_rule("table_close", _table_close)
    return parser


def _finish(tokens: Sequence[Token], page: str) -> None:
    """Give headings their anchors, columns their alignment and links their address on the service."""
    for index, token in enumerate(tokens):
        if token.type == "heading_open":
            token.attrs["id"] = anchor(tokens[index + 1].content)
        elif token.type in ("th_open", "td_open"):
            # A style attribute would need a looser content policy.
            alignment = str(token.attrs.pop("style", "")).removeprefix("text-align:")
            if alignment in ("right", "center"):
                token.attrs["class"] = "right" if alignment == "right" else "centre"
        for child in token.children or ():
            if child.type == "link_open":
                child.attrs["href"] = address(str(child.attrs["href"]), page)


def anchor(heading: str) -> str:
    """Return the anchor of a heading as Markdown readers make it: lower case, hyphens for spaces."""
    return re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-")


def address(link: str, page: str) -> str:
    """Return where a link of a page leads on the service; relative, so that it holds under any prefix.

    Args:
        link: as written in the Markdown: another file of the guide, or an anchor.
        page: the page in which it stands.
    """
    file, hash_sign, place = link.partition("#")
    if not file.endswith(".md"):
        return link
    return _way(file.removesuffix(".md"), page) + hash_sign + place


def _way(to: str, page: str) -> str:
    if page == FIRST_PAGE:
        return "guide" if to == FIRST_PAGE else f"guide/{to}"
    return "../guide" if to == FIRST_PAGE else to


@cache
def _title(page: str) -> str:
    return markdown(page).partition("\n")[0].removeprefix("# ")


def _navigation(page: str) -> str:
    links = []
    for other in (FIRST_PAGE, *PAGES):
        current = ' aria-current="page"' if other == page else ""
        links.append(f'<li><a href="{_way(other, page)}"{current}>{escape(_title(other))}</a></li>')
    return f"<ul>{''.join(links)}</ul>"


def _contents(sections: Sequence[tuple[str, str]]) -> str:
    links = "".join(
        f'<li><a href="#{place}">{escape(name.replace("`", ""))}</a></li>' for place, name in sections
    )
    return f'<nav class="contents" aria-label="On this page"><ul>{links}</ul></nav>\n'


def _code(renderer: Any, tokens: Sequence[Token], index: int, options: Any, env: Any) -> str:
    """Show code within a line; what can be got from the service by a click is a link."""
    shown = f"<code>{escape(tokens[index].content)}</code>"
    got = re.fullmatch(r"GET /(\S+)", tokens[index].content)
    if got is None:
        return shown
    up = "" if env["page"] == FIRST_PAGE else "../"
    return f'<a href="{up}{escape(got.group(1))}">{shown}</a>'


def _fence(renderer: Any, tokens: Sequence[Token], index: int, options: Any, env: Any) -> str:
    """Show a fenced block, a request or an answer with its caption."""
    token = tokens[index]
    block = f"<pre><code>{escape(token.content)}</code></pre>"
    what = token.info.split()[1:]
    if not what:
        return f"{block}\n"
    if what[0] == "request":
        query = "?workings=true" if "workings" in what else ""
        caption = f"Request: <code>POST /v1/{escape(what[1])}{query}</code>"
    elif "refused" in what:
        caption = "Answer: 422, some of its members"
    else:
        caption = "Answer: 200, some of its members"
    return f"<figure><figcaption>{caption}</figcaption>{block}</figure>\n"


def _table_open(renderer: Any, tokens: Sequence[Token], index: int, options: Any, env: Any) -> str:
    return '<div class="table"><table>\n'


def _table_close(renderer: Any, tokens: Sequence[Token], index: int, options: Any, env: Any) -> str:
    return "</table></div>\n"
