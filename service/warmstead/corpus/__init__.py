"""The runner of the reference cases: read them, put them to a service, report what agreed.

The cases themselves are data (`reference_cases/`) and need none of this; their README is the contract for any
other runner. Nothing here imports the service: the caller passes an HTTP client that reaches one.
"""

from warmstead.corpus.in_process import InProcessTransport
from warmstead.corpus.load import CorpusError, default_folder, load
from warmstead.corpus.report import Report
from warmstead.corpus.run import run

__all__ = ["CorpusError", "InProcessTransport", "Report", "default_folder", "load", "run"]
