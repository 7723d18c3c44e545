"""What a fit tells besides rates: types and batches, stretches, curves, damage seen, and what is odd."""
