"""What the regression rests on: readings as arrays, their paths, groups and levels, prior beliefs, and damage."""
