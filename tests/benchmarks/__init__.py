"""How long solves take, on what the time goes, and how near that is to the least possible; no tests, and no limits.

Run ``python -m tests.benchmarks`` from the repository's root; ``--help`` tells more. Goals are printed beside the
numbers as met or not, and never asserted.
"""
