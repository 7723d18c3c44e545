"""The command line: thin, one module a command."""


def run() -> None:
    """Entry point of the installed script."""
    import os
    import sys

    # The matrices here are small: threads of the linear algebra only wait for one another (twice the processor time).
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")

    from wearplan.cli.main import main
    from wearplan.cli.narrow import bear_any_text

    bear_any_text()
    sys.exit(main(sys.argv[1:]))
