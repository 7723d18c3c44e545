"""The outlook: what lies ahead of each tool in place, on draws of the fit."""
