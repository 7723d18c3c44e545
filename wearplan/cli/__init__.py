"""The command line: thin, one module a command."""


def run() -> None:
    """Entry point of the installed script."""
    import os
    import sys

    _keep_out_strangers()
    # The matrices here are small: threads of the linear algebra only wait for one another (twice the processor time).
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")

    try:
        from wearplan.cli.main import main
        from wearplan.cli.narrow import bear_any_text

        bear_any_text()
        code = main(sys.argv[1:])
    except KeyboardInterrupt:  # before there was anything to interrupt
        print("interrupted", file=sys.stderr)
        code = 130
    sys.exit(code)


def _keep_out_strangers() -> None:
    """Nothing that lies in the folder one works in is run, here or in a process started from here.

    A site folder may come from anybody; Python looks for modules in the working directory first where it is told to
    run a module or a text.
    """
    import os
    import sys

    os.environ["PYTHONSAFEPATH"] = "1"
    ours = os.path.realpath(f"{__file__}/../../..")
    here = os.path.realpath(".")
    if here != ours:
        sys.path[:] = [at for at in sys.path if at and os.path.realpath(at) != here]
