"""Checks of a running container, from its inside: who it is, what it holds, that it answers, and that nothing can be written.

Run by prove.sh as `python - < inside.py` in the container. Needs what the image holds and nothing else.
"""

from __future__ import annotations

import errno
import importlib.util
import json
import os
import re
import shutil
import subprocess
import time
import urllib.request
from importlib.metadata import distributions
from pathlib import Path

BASE = "http://127.0.0.1:8080"
KERNELS = ("/proc", "/sys", "/dev")
"""Not part of the image's file system."""


def main() -> None:
    """Check everything; the first failure ends it."""
    identity()
    started()
    contents()
    answers()
    nothing_writable()


def status_of_first_process() -> dict[str, str]:
    """Return what the kernel says of the service's first process."""
    lines = Path("/proc/1/status").read_text().splitlines()
    return {name: value.strip() for name, _, value in (line.partition(":") for line in lines)}


def identity() -> None:
    """The service runs as the image's user, without a single right, and can gain none."""
    status = status_of_first_process()
    assert status["Uid"].split() == ["10001"] * 4, status["Uid"]
    assert status["Gid"].split() == ["10001"] * 4, status["Gid"]
    for rights in ("CapPrm", "CapEff", "CapBnd", "CapAmb"):
        assert int(status[rights], 16) == 0, (rights, status[rights])
    assert status["NoNewPrivs"] == "1"
    print("user 10001, no capabilities, no new privileges")


def started() -> None:
    """The service answers soon."""
    for _ in range(3000):
        try:
            urllib.request.urlopen(f"{BASE}/healthz", timeout=2).read()
            break
        except OSError:
            time.sleep(0.01)
    else:
        raise AssertionError("no answer within 30 s")
    uptime = float(Path("/proc/uptime").read_text().split()[0])
    ticks = int(Path("/proc/1/stat").read_text().rpartition(")")[2].split()[19])
    seconds = uptime - ticks / os.sysconf("SC_CLK_TCK")
    print(f"first answer {seconds:.1f} s after the start of the process")


def contents() -> None:
    """The image holds the packages of LICENCES.md and the service, no installer and no compiler."""
    share = Path("/opt/warmstead/share")
    listed = set(re.findall(r"(?m)^\| ([a-z0-9-]+) \| \d", (share / "LICENCES.md").read_text()))
    held = {re.sub(r"[-_.]+", "-", found.name).lower() for found in distributions()}
    assert listed, "LICENCES.md lists nothing"
    assert held == listed | {"warmstead"}, held ^ (listed | {"warmstead"})
    assert len(json.loads((share / "sbom.json").read_text())["components"]) == len(listed)
    for module in ("pip", "ensurepip", "setuptools", "wheel", "hatchling"):
        assert importlib.util.find_spec(module) is None, module
    for tool in ("pip", "pip3", "cc", "gcc", "make", "git", "curl"):
        assert shutil.which(tool) is None, tool
    size = sum(path.lstat().st_size for path in Path("/opt/warmstead").rglob("*") if path.is_file())
    print(f"{len(held)} packages, as listed; {size / 1e6:.0f} MB of them; no installer, no compiler")


def answers() -> None:
    """The demonstration house is answered, and all reference cases pass over HTTP."""
    example = subprocess.run(["warmstead", "example", "house-loss"], check=True, capture_output=True).stdout
    request = urllib.request.Request(f"{BASE}/v1/house-loss", example, {"content-type": "application/json"})
    with urllib.request.urlopen(request, timeout=30) as response:
        result = json.load(response)
    assert result["design_heat_load_w"] > 0.0
    print(f"house-loss answers: {result['design_heat_load_w']:.0f} W")
    checked = subprocess.run(["warmstead", "check", "--url", BASE], capture_output=True, text=True)
    assert checked.returncode == 0, checked.stdout[-2000:] + checked.stderr[-2000:]
    print("all reference cases pass:", checked.stdout.strip().splitlines()[-1])
    print("memory of the first process at its highest:", status_of_first_process()["VmHWM"])


def nothing_writable() -> None:
    """No folder takes a file and no file can be changed, anywhere in the file system."""
    folders = 0
    for folder, names, files in os.walk("/"):
        names[:] = [name for name in names if os.path.join(folder, name) not in KERNELS]
        folders += 1
        for path in (folder, *(os.path.join(folder, file) for file in files)):
            assert os.path.islink(path) or not os.access(path, os.W_OK), f"{path} can be written"
    # `access` asks; this tries.
    for folder in ("/", "/tmp", "/var/tmp", "/run", "/opt/warmstead"):
        assert refusal_to_write(Path(folder, "trace")) in (errno.EROFS, errno.EACCES), folder
    print(f"none of {folders} folders can be written")


def refusal_to_write(path: Path) -> int | None:
    """Try to write a file; return the error's number, or nothing if it was written."""
    try:
        path.write_text("x")
    except OSError as error:
        return error.errno
    return None


main()
