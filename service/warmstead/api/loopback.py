"""Addresses by which a machine reaches itself."""

from __future__ import annotations

from functools import lru_cache
from ipaddress import ip_address


@lru_cache(maxsize=1024)
def is_loopback(host: str) -> bool:
    """Return whether an address is one by which a machine reaches itself, and by which nobody else reaches it.

    Args:
        host: a number, or `localhost`; no other name is looked up.
    """
    if host == "localhost":
        return True
    try:
        address = ip_address(host)
    except ValueError:
        return False
    return (getattr(address, "ipv4_mapped", None) or address).is_loopback
