"""From a player's complaints and wishes to three rims that differ in kind, solved in the player's lip."""
