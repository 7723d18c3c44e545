"""The command line: thin, one module a command."""


def run() -> None:
    """Entry point of the installed script."""
    import sys

    from wearplan.cli.main import main

    sys.exit(main(sys.argv[1:]))
