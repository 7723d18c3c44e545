"""What to buy, hurry, ask for or leave, at least expected cost on the shared draws.

Everything is reckoned tool by tool: the n-th missing tool is wanted on another day in every draw, or never.
What it costs to have that tool come in on a given day is plain arithmetic (`units`); when best to ask for it, with what
will be known by then, is worked out backwards from the last look at the store (`looks`); order costs, minimums and
multiples join tools into orders (`today`); orders on the way (`on_way`) and worn tools sent to the works (`works`) are
weighed by what they leave to be bought; the site's wish stands beside it (`wish`).
"""
