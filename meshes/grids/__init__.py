"""Graded tensor grids over the resting lip, and the order in which they are eliminated."""
