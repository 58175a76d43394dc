"""A player's sheet on the live page: its form, what is read of it, and what is answered."""
