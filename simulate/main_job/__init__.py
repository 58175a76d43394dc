"""The parts of the main job: effort, ways to an equilibrium, what is asked beside it, and the answer."""
