"""`python -m wearplan.cli`, the same as the installed script."""

from wearplan.cli import run

run()
