"""What the service brings along: pinned by hash, listed, licensed; the lists are those of the constraints."""

from __future__ import annotations

import importlib.util
import json
import re
import sys
from importlib.machinery import SourceFileLoader
from pathlib import Path
from types import ModuleType

import pytest

SERVICE = Path(__file__).parents[1] / "service"
ALLOWED = {
    "0BSD",
    "Apache-2.0",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "BSD-3-Clause-Open-MPI",
    "CC0-1.0",
    # Libraries of the compiler, linked at run time as its exception allows, and one by the Lesser licence: both are
    # separate files inside the wheels of NumPy and SciPy.
    "GPL-3.0-or-later WITH GCC-exception-3.1",
    "LGPL-2.1-or-later",
    "MIT",
    "MPL-2.0",
    "PSF-2.0",
    "Zlib",
}
"""Licences under which a package may come along. Another one needs a decision, and then a line here."""
as_published = pytest.mark.skipif(
    sys.version_info[:2] != (3, 11) or sys.platform != "linux",
    reason="the lists are written for Python 3.11 on Linux; elsewhere requirements differ",
)


def load() -> ModuleType:
    """Return `service/audit`, a program without a suffix, as a module."""
    loader = SourceFileLoader("audit", str(SERVICE / "audit"))
    specification = importlib.util.spec_from_loader("audit", loader)
    assert specification is not None
    module = importlib.util.module_from_spec(specification)
    sys.modules["audit"] = module
    written = sys.dont_write_bytecode
    sys.dont_write_bytecode = True
    try:
        loader.exec_module(module)
    finally:
        sys.dont_write_bytecode = written
    return module


audit = load()


def terms(licence: str) -> set[str]:
    """Return the licences of an SPDX expression."""
    return {term.strip("() ") for term in re.split(r" (?:AND|OR) ", licence)}


@pytest.mark.parametrize("name", ["constraints.txt", "constraints-test.txt"])
def test_everything_is_pinned_by_hash_and_no_index_is_named(name: str) -> None:
    entries = audit.pinned(SERVICE / name)
    assert len(entries) > 20
    for entry in entries.values():
        assert re.fullmatch(r"\S+==\S+( ; [^\\]+)? \\\n( +--hash=sha256:[0-9a-f]{64}( \\)?\n)+", entry), entry
    assert "://" not in (SERVICE / name).read_text()


def test_the_tests_run_with_what_is_shipped() -> None:
    shipped, tested = audit.pinned(), audit.pinned(SERVICE / "constraints-test.txt")
    assert {name: entry for name, entry in tested.items() if name in shipped} == shipped


def test_every_direct_dependency_has_its_reason() -> None:
    assert set(audit.WHY) == {requirement.name for requirement in audit.direct_dependencies()}


def test_the_runtime_set_is_closed_and_has_no_build_tools() -> None:
    packages = {package.name: package for package in audit.runtime()}
    assert set(packages) <= set(audit.pinned())
    assert {parent for package in packages.values() for parent in package.needed_by} <= {
        *packages,
        "warmstead",
    }
    assert not {"hatchling", "pathspec", "pluggy", "trove-classifiers", "pip"} & set(packages)


def test_every_package_has_a_known_licence() -> None:
    for package in audit.runtime():
        assert terms(package.licence) <= ALLOWED, package
        for bundled in package.bundled:
            assert terms(bundled.rpartition(" (")[2].removesuffix(")")) <= ALLOWED, package


def test_a_package_without_a_licence_is_refused() -> None:
    class Silent:
        name, version = "silent", "1"
        metadata = type("Metadata", (dict,), {"get_all": lambda self, name: None})()

    with pytest.raises(audit.Unfit, match="does not say its licence"):
        audit.licence(Silent())


def test_an_environment_that_differs_is_refused() -> None:
    with pytest.raises(audit.Unfit, match="not 0 as pinned"):
        audit.installed("click", {"click": "click==0 \\\n"})
    with pytest.raises(audit.Unfit, match="not pinned"):
        audit.installed("click", {})


@as_published
def test_the_page_of_licences_is_up_to_date() -> None:
    assert (SERVICE / "LICENCES.md").read_text() == audit.licences_page(audit.runtime()), (
        "service/audit licences"
    )


@as_published
def test_the_bill_of_materials_is_up_to_date() -> None:
    bill = json.loads((SERVICE / "sbom.json").read_text())
    assert (bill["bomFormat"], bill["specVersion"]) == ("CycloneDX", "1.6")
    assert bill["metadata"]["component"]["version"] == audit.service_version()
    listed = {component["purl"] for component in bill["components"]}
    assert listed == {f"pkg:pypi/{package.name}@{package.version}" for package in audit.runtime()}, (
        "service/audit sbom"
    )
    assert all(component["licenses"] for component in bill["components"])
    needed = {
        name.lower().replace("_", "-")
        for dependency in bill["dependencies"]
        if dependency["ref"] == "root-component"
        for name in (reference.split("==")[0] for reference in dependency["dependsOn"])
    }
    assert needed == {requirement.name for requirement in audit.direct_dependencies()}
