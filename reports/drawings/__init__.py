"""The dimensioned drawing for the workshop."""
