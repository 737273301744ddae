"""How property tests run here: no deadline on a shared machine, and a failure says how to repeat it."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("suite", deadline=None, print_blob=True)
settings.load_profile("suite")
