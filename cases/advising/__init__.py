"""What is told of a player: the lip, and what the present rim does to it."""
