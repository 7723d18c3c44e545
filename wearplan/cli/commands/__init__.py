"""One module a command; each has `arguments(parser)` and `run(args) -> int`."""
