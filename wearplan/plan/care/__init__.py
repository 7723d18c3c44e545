"""Words of care that go with every stop, and who has read them."""
