"""The tissue law, its element matrices, and what is eliminated element by element."""
