"""Reference solutions the solver is checked against: small formula functions, one file a subject.

Nothing here knows of meshes or elements. Lengths in mm, forces in N, stresses and moduli in MPa, angles in
radians.
"""
