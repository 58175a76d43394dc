"""The same press side by side: this package and general-purpose finite-element libraries, on one core, in one run.

Run ``python -m tests.benchmarks.side_by_side --getfem-python /usr/bin/python3 --ngsolve-python PATH`` from the
repository's root. Each library runs its own script under the interpreter given for it, with nothing of this package
beside it; both read one neutral description of the problem and write what they found. ``requirements.txt`` tells what
each interpreter must have.

A library is asked in two ways.

*guided*: it is handed all that can only be known once the problem has been solved: a mesh fitted to the deformed
state (the lines of a grid fitted to our own solution, thinned), the few travels after which Newton's iteration bears
to be driven by force, and the coarsest mesh found whose peak is within 1 % of a far finer solution. Nobody who has
yet to solve the problem has these; it is the least time we could get the library to take. The steps hold for that one
mesh: on another they may fail or lead to a false equilibrium, so a finer check (a script's ``--finer 2``) starts from
the coarse one.

*alone*: it is handed the problem, as we are: the mesh is laid by the drawing of the rim, steps are lengthened and
shortened by what they bear, and the mesh is refined until the peak moves by less than 1 %.

Ours is `labrum.simulate.solve` as a user calls it: it finds its grid and steps by itself, and its time includes the
error estimate and the drift reading, which no library gives here. What part of the time they take is told beside it.

Times leave out the start of the interpreter and all imports, for everybody, and hold meshing, assembly and solution.
"""
