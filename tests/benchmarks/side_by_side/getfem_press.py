"""The press in GetFEM. Needs GetFEM and NumPy only, such as Debian's python3-getfem; see `neutral` for the command.

What was chosen, and what else was tried on the demo (guided unless said):

- Mixed, order 2 over discontinuous bilinear pressure, on quadrilaterals. The textbook's discontinuous linear pressure
  (``FEM_QUAD_IPK``) gave a peak 3 % too high on the same mesh; order 3 took a fifth longer for the same peak, order 4
  nearly twice as long. Alone, where no mesh is fitted, order 3 is far better: order 2 took 14 s and more.
- Energy and contact are potentials in the weak-form language, differentiated and assembled by GetFEM; a hand-written
  residual took as long. MUMPS on the symmetric tangent.
- Contact by an augmented Lagrangian with a linear multiplier on the surface and the exact signed distance. The
  language cannot differentiate its step function, so one with derivative zero is defined: across a joint of the rim
  distance and normal do not jump. The bricks for contact with an obstacle were not used: they take neither a rim that
  moves by an unknown travel nor a total force.
- The rim's travel is an unknown of its own and starts each step at the last one's value, drawn on by a stiff spring;
  setting it outright, so that Newton's iteration starts from a penetrated state, took three times the iterations and
  then failed.
"""

from __future__ import annotations

import shutil
import subprocess
from itertools import pairwise

import getfem as gf
import numpy as np
from neutral import Guide, Lengths, Piece, Question, Samples, Unsettled, answer_as_asked

STIFFNESS = 0.3  # MPa/mm; only shapes the iteration
SPRING = 1e3  # N/mm that draws the rim to a travel
TRAVEL_SHARE, FORCE_SHARE = 3e-2, 1e-5  # largest last relative residual of a travel step and of the force step
ITERATIONS = 20
TOP, BACK, AXIS = 1, 2, 3
AXIS_SPRING = 1e6  # MPa/mm that hold the axis on the axis
GUIDE = Guide(order=2, columns=1.45, rows=3.0, travels=(0.1, 0.8))
LENGTHS = Lengths(order=3, angle=0.35, share=0.05)


def distance(pieces: tuple[Piece, ...], r: str, z: str) -> str:
    """Signed distance from the rim: of each piece in the sector between the normals at its ends."""
    found = ""
    for before, piece in reversed(list(pairwise(pieces))):
        past = f"{piece.tangent[0]!r}*({r}-{piece.start[0]!r})+({piece.tangent[1]!r})*({z}-{piece.start[1]!r})"
        more = f"({_distance_from(piece, r, z)})-({_distance_from(before, r, z)}){found}"
        found = f"+beyond({past})*({more})"
    return f"({_distance_from(pieces[0], r, z)}{found})"


def _distance_from(piece: Piece, r: str, z: str) -> str:
    if piece.radius is None:
        (along, up), (start_r, start_z) = piece.tangent, piece.start
        return f"({up!r})*({r}-{start_r!r})-({along!r})*({z}-({start_z!r}))"
    return f"sqrt(sqr({r}-{piece.centre[0]!r})+sqr({z}-({piece.centre[1]!r})))-{piece.radius!r}"


class GetfemPress:
    """A GetFEM model on one mesh: displacement ``u``, pressure ``p``, multiplier ``lam`` and the rim's travel ``d``."""

    def __init__(self, question: Question, columns: np.ndarray, rows: np.ndarray, order: int) -> None:
        self.question, self.columns, self._order = question, columns, order
        self.mesh = gf.Mesh("cartesian", columns, rows)
        for region, outwards in ((TOP, [0.0, 1.0]), (BACK, [0.0, -1.0]), (AXIS, [-1.0, 0.0])):
            self.mesh.set_region(region, self.mesh.outer_faces_with_direction(outwards, 0.01))
        self.elements, self.iterations, self.force = self.mesh.nbcvs(), 0, 0.0
        self.model = gf.Model("real")
        self._add_unknowns()
        self._add_tissue()
        self._add_contact()
        self._add_drive()
        self.unknowns = self.model.nbdof()

    @property
    def travel(self) -> float:
        """How far the rim is down, mm."""
        return float(self.model.variable("d")[0])

    def _field(self, kind: str, dimension: int = 1) -> gf.MeshFem:
        field = gf.MeshFem(self.mesh, dimension)
        field.set_fem(gf.Fem(kind))
        return field

    def _add_unknowns(self) -> None:
        self.model.add_fem_variable("u", self._field(f"FEM_QK(2,{self._order})", 2))
        self.model.add_fem_variable("p", self._field(f"FEM_QK_DISCONTINUOUS(2,{self._order - 1})"))
        pressing = self._field(f"FEM_QK(2,{self._order - 1})")
        self.model.add_filtered_fem_variable("lam", pressing, TOP)
        self._corners = pressing.basic_dof_nodes()[0, pressing.basic_dof_on_region(TOP)]
        self.model.add_variable("d", 1)
        self.model.add_Dirichlet_condition_with_simplification("u", BACK)

    def _add_tissue(self) -> None:
        model, constant = self.model, self._field("FEM_QK(2,0)")
        layers = [self.question.layers[self.question.layer_at(z)] for z in constant.basic_dof_nodes()[1]]
        for key in ("shear", "second", "third", "bulk"):
            model.add_initialized_fem_data(key, constant, np.array([getattr(layer, key) for layer in layers]))
        model.add_macro("hoop", "(1+u(1)/X(1))")
        model.add_macro("slope", "(Id(2)+Grad_u)")
        model.add_macro("ratio", "(Det(slope)*hoop)")
        model.add_macro("excess", "(pow(ratio,-2/3)*(Norm_sqr(slope)+sqr(hoop))-3)")
        cubic = "+third*pow(excess,3)" if any(layer.third for layer in layers) else ""
        energy = f"shear/2*excess+second*sqr(excess){cubic}+p*(ratio-1)-sqr(p)/(2*bulk)"
        inside = gf.MeshIm(self.mesh, gf.Integ(f"IM_GAUSS_PARALLELEPIPED(2,{2 * self._order + 1})"))
        model.add_nonlinear_term(inside, f"2*pi*X(1)*({energy})", -1, True, False)
        model.add_linear_term(inside, f"{AXIS_SPRING!r}*u(1)*Test_u(1)", AXIS, True, True)

    def _add_contact(self) -> None:
        self.model.add_macro("gap", distance(self.question.pieces, "(X(1)+u(1))", "(X(2)+u(2)+d)"))
        touching = f"(half_sqr_pos_part(lam-{STIFFNESS}*gap)-sqr(lam)/2)/{STIFFNESS}"
        along = gf.MeshIm(self.mesh, gf.Integ(f"IM_GAUSS_PARALLELEPIPED(2,{2 * self._order + 2})"))
        self.model.add_nonlinear_term(along, f"2*pi*X(1)*({touching})", TOP, True, False)

    def _add_drive(self) -> None:
        spring = gf.Spmat("empty", 1, 1)
        spring.assign(0, 0, SPRING)
        self._held = self.model.add_explicit_matrix("d", "d", spring, 1, 1)
        self._drawn = self.model.add_explicit_rhs("d", [0.0])
        self._loaded = self.model.add_explicit_rhs("d", [self.question.force])
        self.model.disable_bricks(self._loaded)

    def to_travel(self, travel: float) -> None:
        """Equilibrium with the rim drawn so far down, less what the spring gives."""
        self.model.set_private_rhs(self._drawn, [SPRING * travel])
        self._settle(TRAVEL_SHARE)
        self.force = SPRING * (travel - self.travel)

    def to_force(self, force: float) -> None:
        """Equilibrium under the force."""
        self.model.disable_bricks([self._held, self._drawn])
        self.model.enable_bricks(self._loaded)
        self.model.set_private_rhs(self._loaded, [force])
        try:
            self._settle(FORCE_SHARE)
            self.force = force
        except Unsettled:
            self.model.enable_bricks([self._held, self._drawn])
            self.model.disable_bricks(self._loaded)
            raise

    def _settle(self, residual: float) -> None:
        began = {name: self.model.variable(name) for name in ("u", "p", "lam", "d")}
        search = ("lsearch", "simplest", "alpha max ratio", 2.0, "alpha min", 0.01, "alpha mult", 0.5)
        try:
            taken, settled = self.model.solve("max_res", residual, "max_iter", ITERATIONS, "lsolver", "mumps", *search)
        except RuntimeError as error:  # a singular matrix
            taken, settled = ITERATIONS, False
            failure = str(error)
        else:
            failure = f"{ITERATIONS} iterations were not enough"
        self.iterations += int(taken)
        if not settled:
            for name, value in began.items():
                self.model.set_variable(name, value)
            raise Unsettled(failure)

    def begin_from(self, other: GetfemPress) -> None:
        """Interpolate another mesh's state."""
        for name in ("u", "p"):
            mine, theirs = (press.model.mesh_fem_of_variable(name) for press in (self, other))
            values = gf.compute_interpolate_on(theirs, other.model.variable(name), mine)
            self.model.set_variable(name, values)
        self.model.set_variable("lam", other._along_top("lam", self._corners))
        self.model.set_variable("d", other.model.variable("d"))
        self.force = other.force

    def samples(self) -> Samples:
        """Multiplier over the surface's stretch, nine points an element, its ends a little inside."""
        share = np.linspace(1e-6, 1.0 - 1e-6, 9)
        rest = (self.columns[:-1, None] + np.diff(self.columns)[:, None] * share).ravel()
        stretch = "((1+u(1)/X(1))*sqrt(sqr(1+Grad_u(1,1))+sqr(Grad_u(2,1))))"
        return Samples(
            rest + self._along_top("u(1)", rest), self._along_top(f"lam/{stretch}", rest), self._along_top("gap", rest)
        )

    def _along_top(self, quantity: str, rest: np.ndarray) -> np.ndarray:
        return self.model.interpolation(quantity, np.array([rest, np.full(len(rest), -1e-10)]), self.mesh)


def version() -> str:
    """The package's version where it is Debian's; GetFEM itself tells none."""
    if shutil.which("dpkg-query") is None:
        return "unknown"
    words = ["dpkg-query", "-W", "-f", "${Version}", "python3-getfem"]
    return subprocess.run(words, capture_output=True, text=True).stdout.partition("+")[0] or "unknown"


if __name__ == "__main__":
    gf.util_trace_level(0)
    gf.util_warning_level(0)
    gf.asm_define_function("beyond", 1, "Heaviside(t)", "0*t")
    answer_as_asked("GetFEM", version(), GetfemPress, GUIDE, LENGTHS)
