"""The exact model of a drive: its costs and conditions, and the optimiser's problem made of them."""
