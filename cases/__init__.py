"""The case file, the library of lips, the runner and the command line."""
