"""A coverage-guided fuzzer's parts: what it begins with, how it changes that, what must hold, and faults to plant."""
