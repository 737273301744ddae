"""`python -m warmstead.cli` is the command `warmstead`."""

from warmstead.cli import main

if __name__ == "__main__":  # a process that works for this one loads this file too
    main()
