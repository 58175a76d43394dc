"""What is measured: every number of a result, declared once."""
