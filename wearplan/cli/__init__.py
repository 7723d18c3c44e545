"""The command line: thin, one module a command."""


def run() -> None:
    """Entry point of the installed script."""
    import sys

    from wearplan.cli.main import main
    from wearplan.cli.narrow import bear_any_text

    bear_any_text()
    sys.exit(main(sys.argv[1:]))
