"""The lessons' states: every rim at every stop, solved before somebody asks."""
