"""Keys: how they are made, kept as hashes, compared, and changed while the service runs."""

from __future__ import annotations

import hmac
import logging
import os
import re
import stat
from hashlib import sha256
from pathlib import Path

import pytest
from click.testing import CliRunner

from warmstead.api import keys as keys_module
from warmstead.api.keys import MOST_KEYS, Keys, UnusableKeys, new_key, parsed
from warmstead.cli import main


class Clock:
    """A clock that is set by hand."""

    now = 100.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "keys"


def test_a_key_has_256_random_bits_and_its_line_only_the_hash() -> None:
    made = [new_key("site") for _ in range(100)]
    assert len({key.secret for key in made}) == 100
    for key in made:
        assert re.fullmatch(r"warmstead_[A-Za-z0-9_-]{43}", key.secret)  # 43 characters of 6 bits: 32 bytes
        assert key.line == f"site sha256:{sha256(key.secret.encode()).hexdigest()}"


@pytest.mark.parametrize("name", ["", "a b", "-a", "a\nb", "a" * 65, "ä", "a#b"])
def test_a_name_that_would_not_fit_a_line_is_refused(name: str) -> None:
    with pytest.raises(UnusableKeys, match="64 at most"):
        new_key(name)


def test_wrong_lines_are_told_and_let_nobody_in() -> None:
    good = new_key("good")
    keys, wrong = parsed(
        f"# a remark\r\n\n{good.line}\ngood sha256:{'0' * 64}\nplain secret\nx sha256:{'F' * 64}\n"
    )
    assert [key.name for key in keys] == ["good"]
    assert [line.split(" ")[1] for line in wrong] == ["4", "5", "6"]
    assert "secret" not in " ".join(wrong)


def test_a_file_holds_so_many_keys_and_no_more() -> None:
    lines = "\n".join(f"k{number} sha256:{number:064x}" for number in range(MOST_KEYS + 1))
    keys, wrong = parsed(lines)
    assert len(keys) == MOST_KEYS
    assert len(wrong) == 1


@pytest.mark.parametrize(
    ("held", "reason"),
    [
        ("", "no key"),
        ("# nothing\n", "no key"),
        ("wrong\n", "line 1"),
        ("x" * 70_000, "larger"),
        ("\x00\udcff", "line 1"),
    ],
)
def test_a_file_that_cannot_be_used_is_refused_at_the_start(file: Path, held: str, reason: str) -> None:
    file.write_bytes(held.encode("utf-8", errors="surrogateescape"))
    with pytest.raises(UnusableKeys, match=reason):
        Keys(file)


def test_every_key_is_compared_in_constant_time_whichever_is_shown(
    file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = [new_key(f"k{number}") for number in range(5)]
    file.write_text("\n".join(key.line for key in made))
    keys = Keys(file)
    compared = []
    compare = hmac.compare_digest

    def noted(one: bytes, other: bytes) -> bool:
        compared.append(other)
        return compare(one, other)

    monkeypatch.setattr(vars(keys_module)["hmac"], "compare_digest", noted)
    for secret, holder in ((made[0].secret, "k0"), (made[4].secret, "k4"), ("warmstead_wrong", None)):
        compared.clear()
        assert keys.holder(secret.encode()) == holder
        assert len(compared) == 5


def test_keys_change_while_the_service_runs(file: Path, clock: Clock) -> None:
    old, new = new_key("old"), new_key("new")
    file.write_text(old.line)
    keys = Keys(file, clock)

    def in_force() -> list[str]:
        clock.now += 1.01
        return [name for key in (old, new) if (name := keys.holder(key.secret.encode()))]

    assert in_force() == ["old"]
    file.write_text(f"{old.line}\n{new.line}\n")
    assert in_force() == ["old", "new"]
    replacement = file.with_name("replacement")
    replacement.write_text(new.line)
    os.replace(replacement, file)
    assert in_force() == ["new"]


def test_a_file_is_looked_at_once_a_second_at_most(file: Path, clock: Clock) -> None:
    old, new = new_key("old"), new_key("new")
    file.write_text(old.line)
    keys = Keys(file, clock)
    file.write_text(new.line)
    clock.now += 0.5
    assert keys.holder(new.secret.encode()) is None
    clock.now += 0.6
    assert keys.holder(new.secret.encode()) == "new"
    file.write_text("")
    clock.now += 0.5
    assert keys.holder(new.secret.encode()) == "new"
    clock.now += 0.6
    assert keys.holder(new.secret.encode()) is None


def test_a_secret_volume_that_swaps_a_link_is_seen(tmp_path: Path, clock: Clock) -> None:
    # As Kubernetes updates a mounted Secret: ..data is a link that is replaced at once.
    first, second = new_key("first"), new_key("other")
    for name, key in (("one", first), ("two", second)):
        (tmp_path / name).mkdir()
        (tmp_path / name / "keys").write_text(key.line)
        os.utime(tmp_path / name / "keys", (1, 1))
    (tmp_path / "..data").symlink_to("one")
    (tmp_path / "keys").symlink_to("..data/keys")
    keys = Keys(tmp_path / "keys", clock)
    (tmp_path / "..new").symlink_to("two")
    os.replace(tmp_path / "..new", tmp_path / "..data")
    clock.now += 1.01
    assert keys.holder(first.secret.encode()) is None


def test_a_file_that_is_gone_shuts_nobody_out_and_says_so(
    file: Path, clock: Clock, caplog: pytest.LogCaptureFixture
) -> None:
    key = new_key("site")
    file.write_text(key.line)
    keys = Keys(file, clock)
    file.unlink()
    clock.now += 1.01
    with caplog.at_level(logging.ERROR, "warmstead"):
        assert keys.holder(key.secret.encode()) == "site"
    assert "stay in force" in caplog.text


def test_a_file_that_is_emptied_shuts_everybody_out(file: Path, clock: Clock) -> None:
    key = new_key("site")
    file.write_text(key.line)
    keys = Keys(file, clock)
    file.write_text("")
    clock.now += 1.01
    assert keys.holder(key.secret.encode()) is None


def test_a_slip_in_the_file_shuts_out_that_key_alone(
    file: Path, clock: Clock, caplog: pytest.LogCaptureFixture
) -> None:
    one, other = new_key("one"), new_key("other")
    file.write_text(one.line)
    keys = Keys(file, clock)
    file.write_text(f"{one.line[:-1]}\n{other.line}\n")
    clock.now += 1.01
    with caplog.at_level(logging.ERROR, "warmstead"):
        assert keys.holder(one.secret.encode()) is None
    assert keys.holder(other.secret.encode()) == "other"
    assert "line 1" in caplog.text


# --- The command ------------------------------------------------------------------------------------


def test_the_command_prints_the_key_and_the_line() -> None:
    done = CliRunner().invoke(main, ["key", "new", "--name", "site"])
    assert done.exit_code == 0
    secret, line = done.stdout.splitlines()
    assert line == f"site sha256:{sha256(secret.encode()).hexdigest()}"
    assert "this once" in done.stderr


def test_the_command_adds_the_line_to_a_file_that_only_its_owner_reads(file: Path) -> None:
    def make(name: str) -> str:
        done = CliRunner().invoke(main, ["key", "new", "--name", name, "--file", str(file)])
        assert done.exit_code == 0, done.output
        return done.stdout.strip()

    one = make("one")
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert one not in file.read_text()
    file.write_text(file.read_text().rstrip("\n"))
    other = make("other")
    keys = Keys(file)
    assert [keys.holder(secret.encode()) for secret in (one, other)] == ["one", "other"]


def test_the_command_gives_no_name_twice(file: Path) -> None:
    command = ["key", "new", "--file", str(file)]
    assert CliRunner().invoke(main, command).exit_code == 0
    before = file.read_text()
    again = CliRunner().invoke(main, command)
    assert again.exit_code == 2
    assert "--name" in again.output
    assert file.read_text() == before


def test_the_command_says_where_it_cannot_write(tmp_path: Path) -> None:
    done = CliRunner().invoke(main, ["key", "new", "--file", str(tmp_path / "none" / "keys")])
    assert done.exit_code == 1
    assert "No such file" in done.output
