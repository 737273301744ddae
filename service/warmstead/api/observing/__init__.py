"""What can be seen of the service from outside: figures, logs and traces. None of them holds anything that a client sent."""

FOLDER_VARIABLE = "PROMETHEUS_MULTIPROC_DIR"
"""Where it is set, all processes add up their figures in files of that folder (the way of the library that counts)."""
