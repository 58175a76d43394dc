"""The press in NGSolve. Needs NGSolve and NumPy only; see `neutral` for the command line.

What was chosen, and what else was tried on the demo (guided unless said):

- Mixed in displacement and pressure, order 3 over discontinuous order 2 on quadrilaterals: displacement alone, at
  nu = 0.495, took three times the iterations a step and failed in steps the mixed form bears. Pressure and inner
  displacements are condensed out element by element, the energy is one ``Variation``, compiled. For the same peak
  order 2 took half as long again, order 4 a third longer; a pressure one order lower led to false equilibria.
  Compiling to machine code saves a quarter of the time and itself takes 7 s, so it is left out.
- Contact by an augmented Lagrangian with a multiplier of order 2 on the surface and the exact signed distance, whose
  second derivative NGSolve finds itself. `STIFFNESS` only shapes the iteration; `HOLD`, in series with it, keeps the
  pivots of the sparse Cholesky factorisation from vanishing and stands for 0.3 um of give at the peak. With UMFPACK
  and no such give the peak rose by 0.6 % and the time by a half. A penalty alone took three stages of stiffness and
  half as many iterations again. A multiplier of the displacement's own order gave a peak false by a third.
- Steps of travel longer than these two failed or led to false equilibria, where the surface jumps over the bite.
- The rim stands still and the lip's bonded back moves, so its travel enters linearly: one sparse factorisation serves
  the step for standing back and the step per mm of travel, and the force's own equation gives how far to go.
- Alone: of some sixty lengths, growths and ratios of refinement tried, those that ended within 1 % took from 2 to over
  15 s, most of them over 4; these are among the quickest.
"""

from __future__ import annotations

from itertools import pairwise

import ngsolve as ng
import numpy as np
from netgen.meshing import Element1D, Element2D, FaceDescriptor, MeshPoint, NgException, Pnt
from netgen.meshing import Mesh as NetgenMesh
from neutral import Guide, Layer, Lengths, Piece, Question, Samples, Unsettled, answer_as_asked

STIFFNESS, HOLD = 0.3, 300.0  # MPa/mm
TRAVEL_MM, FORCE_MM = 0.03, 1e-4  # largest last increment of a travel step and of the force step
ITERATIONS, HALVINGS, RISE = 20, 10, 2.0
EDGES = ("back", "outer", "top", "axis")
GUIDE = Guide(order=3, columns=2.25, rows=5.0, travels=(0.2, 0.8))
LENGTHS = Lengths(order=3, angle=0.35, share=0.05)


def quadrilaterals(question: Question, columns: np.ndarray, rows: np.ndarray) -> ng.Mesh:
    """Mesh of rectangles between the lines, materials named by layer, edges named as in `EDGES`."""
    mesh = NetgenMesh(dim=2)
    points = [[mesh.Add(MeshPoint(Pnt(float(r), float(z), 0.0))) for r in columns] for z in rows]
    for number, layer in enumerate(question.layers, start=1):
        mesh.Add(FaceDescriptor(surfnr=number, domin=number, bc=number))
        mesh.SetMaterial(number, layer.name)
    for j, height in enumerate(0.5 * (rows[1:] + rows[:-1])):
        number = question.layer_at(height) + 1
        for i in range(len(columns) - 1):
            mesh.Add(Element2D(number, [points[j][i], points[j][i + 1], points[j + 1][i + 1], points[j + 1][i]]))
    around = (points[0], [row[-1] for row in points], points[-1][::-1], [row[0] for row in points][::-1])
    for number, (name, edge) in enumerate(zip(EDGES, around, strict=True)):
        mesh.SetBCName(number, name)
        for one, other in pairwise(edge):
            mesh.Add(Element1D([one, other], index=number + 1))
    return ng.Mesh(mesh)


def energy(u: ng.CF, p: ng.CF, layers: tuple[Layer, ...], mesh: ng.Mesh) -> ng.CF:
    """Stored energy per resting volume."""
    shear, second, third, bulk = (
        mesh.MaterialCF({layer.name: getattr(layer, key) for layer in layers})
        for key in ("shear", "second", "third", "bulk")
    )
    slope, hoop = ng.Grad(u), 1 + u[0] / ng.x
    a, b, c, d = 1 + slope[0, 0], slope[0, 1], slope[1, 0], 1 + slope[1, 1]
    ratio = (a * d - b * c) * hoop
    excess = ratio ** (-2 / 3) * (a * a + b * b + c * c + d * d + hoop * hoop) - 3
    stiffening = second * excess**2
    if any(layer.third for layer in layers):
        stiffening += third * excess**3
    return shear / 2 * excess + stiffening + p * (ratio - 1) - p * p / (2 * bulk)


def distance(pieces: tuple[Piece, ...], r: ng.CF, z: ng.CF) -> ng.CF:
    """Signed distance from the rim: of each piece in the sector between the normals at its ends."""
    found = _distance_from(pieces[-1], r, z)
    for before, piece in reversed(list(pairwise(pieces))):
        past = piece.tangent[0] * (r - piece.start[0]) + piece.tangent[1] * (z - piece.start[1])
        found = ng.IfPos(past, found, _distance_from(before, r, z))
    return found


def _distance_from(piece: Piece, r: ng.CF, z: ng.CF) -> ng.CF:
    if piece.radius is None:
        return piece.tangent[1] * (r - piece.start[0]) - piece.tangent[0] * (z - piece.start[1])
    return ng.sqrt((r - piece.centre[0]) ** 2 + (z - piece.centre[1]) ** 2) - piece.radius


class NgsolvePress:
    """Displacement, pressure and multiplier on one mesh; the rim stands still, the back has gone up by ``travel``."""

    def __init__(self, question: Question, columns: np.ndarray, rows: np.ndarray, order: int) -> None:
        self.question, self._order = question, order
        self.mesh = quadrilaterals(question, columns, rows)
        self.elements, self.iterations = self.mesh.ne, 0
        self.travel = self.force = 0.0
        self._top = self.mesh.Boundaries("top")
        self._space = self._spaces()
        self.unknowns = sum(self._space.FreeDofs())
        self._form = self._equations()
        self._state = ng.GridFunction(self._space)
        self._coupled = self._space.FreeDofs(coupling=True)
        self._free = ng.Projector(self._space.FreeDofs(), True)
        self._up = self._unit_lift()

    def _spaces(self) -> ng.FESpace:
        moving = ng.VectorH1(self.mesh, order=self._order, dirichletx="back|axis", dirichlety="back")
        squeezed = ng.L2(self.mesh, order=self._order - 1)
        pressed = ng.H1(self.mesh, order=self._order - 1, definedon=self._top)
        space = ng.FESpace([moving, squeezed, pressed])
        own = space.Range(2)
        for dof in range(own.start, own.stop):  # where it touches, a multiplier has hardly a pivot of its own
            if space.CouplingType(dof) != ng.COUPLING_TYPE.UNUSED_DOF:
                space.SetCouplingType(dof, ng.COUPLING_TYPE.INTERFACE_DOF)
        return space

    def _equations(self) -> ng.BilinearForm:
        u, p, multiplier = self._space.TrialFunction()
        form = ng.BilinearForm(self._space, symmetric=True, condense=True)
        around = 2 * np.pi * ng.x
        form += ng.Variation((around * energy(u, p, self.question.layers, self.mesh)).Compile() * ng.dx)
        trial = multiplier - STIFFNESS * distance(self.question.pieces, ng.x + u[0], ng.y + u[1])
        touching = (ng.IfPos(trial, trial**2, 0) - multiplier**2) / (2 * STIFFNESS) - multiplier**2 / (2 * HOLD)
        rule = ng.IntegrationRule(ng.SEGM, 2 * self._order + 2)
        form += ng.Variation((around * touching).Compile() * ng.ds("top", intrules={ng.SEGM: rule}))
        return form

    def _unit_lift(self) -> ng.BaseVector:
        """The whole lip moved up by 1 mm, in the degrees of freedom that are not condensed out."""
        lifted = ng.GridFunction(self._space)
        lifted.components[0].Set((0.0, 1.0))
        values = lifted.vec.FV().NumPy()
        inner = [self._space.CouplingType(k) == ng.COUPLING_TYPE.LOCAL_DOF for k in range(self._space.ndof)]
        values[np.array(inner) | (np.abs(values) < 1e-8)] = 0.0
        return lifted.vec

    def to_travel(self, travel: float) -> None:
        """Equilibrium with the back so far up."""
        self._settle(lambda force, stiffness: travel - self.travel, TRAVEL_MM)

    def to_force(self, force: float) -> None:
        """Equilibrium under the force."""
        self._settle(lambda now, stiffness: (force - now) / stiffness, FORCE_MM)

    def _settle(self, lift, least: float) -> None:
        """Newton's iteration; ``lift`` tells by how much the back goes up, from the force there would be without."""
        began, travel = self._state.vec.CreateVector(), self.travel
        began.data = self._state.vec
        try:
            for iteration in range(ITERATIONS):
                increment, whole = self._iterate(lift, unbounded=iteration == 0)
                if whole and increment < least:
                    self.force = self._lifting_force()
                    return
        except NgException as error:  # a singular matrix
            self._state.vec.data, self.travel = began, travel
            raise Unsettled(str(error)) from error
        self._state.vec.data, self.travel = began, travel
        raise Unsettled(f"{ITERATIONS} iterations were not enough")

    def _iterate(self, lift, unbounded: bool) -> tuple[float, bool]:
        """One linearised solution and a step along it: the largest increment in mm, and whether it was taken whole."""
        form, state = self._form, self._state.vec
        standing, per_mm, load = (state.CreateVector() for _ in range(3))
        self.iterations += 1
        form.AssembleLinearization(state)
        solve = form.mat.Inverse(self._coupled, inverse="sparsecholesky")
        form.Apply(state, load)
        force = ng.InnerProduct(load, self._up)
        imbalance = self._imbalance(load)
        load.data = -1.0 * load
        load.data += form.harmonic_extension_trans * load
        standing.data = solve * load
        standing.data += form.harmonic_extension * standing
        standing.data += form.inner_solve * load
        load.data = form.mat * self._up
        per_mm.data = self._up - solve * load
        per_mm.data += form.harmonic_extension * per_mm
        share = lift(force + ng.InnerProduct(load, standing), ng.InnerProduct(load, per_mm))
        standing.data += share * per_mm
        moved = float(np.abs(standing.FV().NumPy()[: self._space.Range(0).stop]).max())
        return moved, self._step(standing, share, np.inf if unbounded else RISE * imbalance)

    def _step(self, step: ng.BaseVector, lift: float, bound: float) -> bool:
        """Take the step, halved until the imbalance is below ``bound``; whether it was taken whole."""
        began, load = self._state.vec.CreateVector(), self._state.vec.CreateVector()
        began.data, travel = self._state.vec, self.travel
        for halving in range(HALVINGS):
            factor = 0.5**halving
            self._state.vec.data, self.travel = began + factor * step, travel + factor * lift
            self._form.Apply(self._state.vec, load)
            imbalance = self._imbalance(load)
            if np.isfinite(imbalance) and imbalance <= bound:
                return halving == 0
        return False

    def _imbalance(self, load: ng.BaseVector) -> float:
        free = load.CreateVector()
        free.data = self._free * load
        return float(ng.Norm(free))

    def _lifting_force(self) -> float:
        load = self._state.vec.CreateVector()
        self._form.Apply(self._state.vec, load)
        return float(ng.InnerProduct(load, self._up))

    def begin_from(self, other: NgsolvePress) -> None:
        """Interpolate another mesh's displacement and pressure, and its multiplier between the corners."""
        for mine, theirs in zip(self._state.components[:2], other._state.components[:2], strict=True):
            mine.Set(theirs)
        places, values = other._along_top(ng.x, other._state.components[2], points=5)
        corners = self._state.components[2].vec
        for element in self._top.Elements():
            for vertex in element.vertices:
                corners[vertex.nr] = float(np.interp(self.mesh[vertex].point[0], places, values))
        self.travel, self.force = other.travel, other.force

    def samples(self) -> Samples:
        """Multiplier over the surface's stretch, nine points an element."""
        u = self._state.components[0]
        slope = ng.BoundaryFromVolumeCF(ng.Grad(u))
        stretch = (1 + u[0] / (ng.x + 1e-9)) * ng.sqrt((1 + slope[0, 0]) ** 2 + slope[1, 0] ** 2)
        gap = distance(self.question.pieces, ng.x + u[0], ng.y + u[1])
        return Samples(*self._along_top(ng.x + u[0], self._state.components[2] / stretch, gap, points=9))

    def _along_top(self, *quantities: ng.CF, points: int) -> list[np.ndarray]:
        """Values along the surface from the axis outwards, both ends of every element among them."""
        edges = []
        for element in self._top.Elements():
            place = self.mesh.GetTrafo(element)
            at = sorted((place(t, 0.0) for t in np.linspace(0.0, 1.0, points)), key=ng.x)
            edges.append((ng.x(at[points // 2]), [[quantity(point) for quantity in quantities] for point in at]))
        edges.sort(key=lambda edge: edge[0])
        return list(np.array([values for _, edge in edges for values in edge], dtype=float).T)


if __name__ == "__main__":
    ng.SetNumThreads(1)
    answer_as_asked("NGSolve", ng.__version__, NgsolvePress, GUIDE, LENGTHS)
