"""``python -m visualiser`` is the ``visualiser`` command."""

from visualiser.cli import main

main()
