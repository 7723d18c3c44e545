"""Charts, for the terminal on one drawing sheet and for paper as SVG."""
