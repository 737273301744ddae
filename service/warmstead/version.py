"""The version of the service."""

__version__ = "0.1.0"
