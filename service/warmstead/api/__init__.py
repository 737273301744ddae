"""The HTTP service. Only here are status codes, headers and formats known."""
