"""The command `warmstead`: serve, demo, ask, example, check, and what writes generated files.

Exit status: 0 done; 1 a request was refused or a case failed; 2 wrong use, or a service that gave no answer.
"""

from warmstead.cli.ask import QUESTIONS
from warmstead.cli.program import main

__all__ = ["QUESTIONS", "main"]
