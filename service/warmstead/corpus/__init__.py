"""The runner of the reference cases: read them, put them to a service, report what agreed.

The cases themselves are data (`reference_cases/`) and need none of this; their README is the contract for any
other runner. Nothing here imports the service: the caller passes an HTTP client that reaches one.
"""

from warmstead.corpus.files import CorpusError
from warmstead.corpus.in_process import InProcessTransport
from warmstead.corpus.load import default_folder, load
from warmstead.corpus.mapping import load_mapping
from warmstead.corpus.report import Report, Result
from warmstead.corpus.run import run
from warmstead.corpus.selection import select

__all__ = [
    "CorpusError",
    "InProcessTransport",
    "Report",
    "Result",
    "default_folder",
    "load",
    "load_mapping",
    "run",
    "select",
]
