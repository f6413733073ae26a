"""``python -m assess`` runs the command."""

from assess.cli.commands import main

main(prog_name="assess")
