"""`python -m lightoff` is the command `lightoff`."""

from lightoff.cli import main

main(prog_name="lightoff")
