"""From the exact model to a plan as it would be carried out: whole entries, neighbours, overcut, moves, cost."""
