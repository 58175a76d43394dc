"""The way to the answer: grids fitted to the deformed lip, steps of travel and force, breath and muscle."""
