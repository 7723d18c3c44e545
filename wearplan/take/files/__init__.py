"""Files from the office as sheets of cells; nothing in them is run, no link is followed."""
