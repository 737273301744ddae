"""Lines cut out of pieces."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from warmstead.exchange.ndjson import Line, LineReader

TEXTS = st.lists(
    st.sampled_from(
        [b"", b"a", b"bb", b"x" * 9, b"x" * 10, b"x" * 11, b" ", b"\r", b"a\r", b"x" * 10 + b"\r"]
    )
)


def read(pieces: list[bytes], longest: int = 10) -> list[Line]:
    reader = LineReader(longest)
    lines = [line for piece in pieces for line in reader.feed(piece)]
    return lines + reader.end()


@given(TEXTS, st.lists(st.integers(1, 30)), st.booleans())
def test_lines_are_the_same_however_the_text_is_cut(texts: list[bytes], cuts: list[int], ends: bool) -> None:
    text = b"\n".join(texts) + (b"\n" if ends and texts else b"")
    pieces, at = [], 0
    for cut in cuts:
        pieces.append(text[at : at + cut])
        at += cut
    pieces.append(text[at:])
    wanted = []
    for number, line in enumerate(text.split(b"\n"), start=1):
        line = line.removesuffix(b"\r")
        if line.strip():
            wanted.append(Line(number, line if len(line) <= 10 else None))
    assert read(pieces) == wanted


def test_a_line_that_is_too_long_takes_no_memory() -> None:
    reader = LineReader(longest=1000)
    for _ in range(10_000):
        assert reader.feed(b"x" * 1000) == []
        assert reader.held < 2100
    assert reader.feed(b"\nshort\n") == [Line(1, None), Line(2, b"short")]


def test_a_number_says_which_line_is_next() -> None:
    reader = LineReader(10)
    reader.feed(b"a\n\nb")
    assert reader.number == 2
