"""`python -m warmstead.cli` is the command `warmstead`."""

from warmstead.cli import main

main()
