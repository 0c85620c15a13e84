"""``python -m benchrecord`` is ``benchrecord``."""

from benchrecord.cli import main

main()
