"""Pointers into an answer."""

from __future__ import annotations

import pytest

from warmstead.corpus.pointer import NothingThereError, find

ANSWER = {
    "rooms": [{"id": "hall", "loss_w": 3}, {"id": "kitchen", "loss_w": 5}],
    "rows": [
        {"construction": "wall", "boundary": "outside", "share": 0.7},
        {"construction": "wall", "boundary": "room", "share": 0.3},
    ],
    "a/b": {"c~d": 1},
    "0": "a member named 0",
}


@pytest.mark.parametrize(
    ("pointer", "value"),
    [
        ("/rooms/1/loss_w", 5),
        ("/rooms/id=kitchen/loss_w", 5),
        ("/rows/construction=wall,boundary=room/share", 0.3),
        ("/a~1b/c~0d", 1),
        ("/0", "a member named 0"),
    ],
)
def test_a_value_is_found(pointer: str, value: object) -> None:
    assert find(ANSWER, pointer) == value


@pytest.mark.parametrize(
    ("pointer", "told", "holder_found"),
    [
        ("/room/1/loss_w", "in the whole answer, no member 'room'; nearest: 'rooms'", False),
        ("/rooms/1/losses_w", "in /rooms/1, no member 'losses_w'; nearest: 'loss_w'", True),
        ("/rooms/1/u_value", "in /rooms/1, no member 'u_value'", True),
        ("/rooms/2", "in /rooms, no index 2 of 2 members", True),
        ("/rooms/01", "no list index '01'", True),
        ("/rooms/-", "no list index '-'", True),
        ("/rooms/id=attic/loss_w", "in /rooms, 0 members with id=attic", False),
        ("/rows/construction=wall/share", "2 members with construction=wall", False),
        ("/rooms/1/loss_w/x", "not an object or a list", True),
    ],
)
def test_a_misspelt_pointer_leads_to_nothing(pointer: str, told: str, holder_found: bool) -> None:
    with pytest.raises(NothingThereError) as caught:
        find(ANSWER, pointer)
    assert str(caught.value).startswith("nothing at pointer: ")
    assert told in str(caught.value)
    assert caught.value.holder_found is holder_found
