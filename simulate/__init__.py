"""Physics: tissue, contact, equilibrium, accuracy and the quantities read off a solution."""
