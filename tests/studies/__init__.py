"""Long studies of many random designs, each a command of its own."""
