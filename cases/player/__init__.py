"""From what a fitter learns of a player across a table to that player's lip, and what a rim does to it."""
