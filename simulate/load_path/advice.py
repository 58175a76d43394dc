"""What to try where no equilibrium was found: only what can help this problem."""

from __future__ import annotations

from itertools import pairwise

from labrum.simulate.problem import Problem

ROUND_BITE_MM = 1.5  # a rounder one than this was never what ended a press
ROUGH = 0.3  # friction from which tissue is dragged along in folds
HARDLY_STIFFENS, STIFFENS_AT_ONCE = 0.1, 20.0  # c2 or c3 over the shear modulus; tissue has about a half
UNLIKE = 30.0  # moduli of neighbouring layers, one over the other
MOST_TIPS = 3


def advice(problem: Problem, reached: float) -> str:
    """Say what may help a press that came to ``reached`` N and no further."""
    tips = []
    if reached > 0.005 * problem.load.force:
        tips.append(f"lower force_n, to {reached:.3g} at most")
    tips += [tip for tip in (*_of_tissue(problem), *_of_contact(problem)) if tip]
    if not tips:
        tips.append("another rim, or a lip of other thickness: nothing about this one stands out")
    return ", or ".join(tips[:MOST_TIPS]) + "; the last steps are in the history"


def _of_tissue(problem: Problem) -> tuple[str, ...]:
    layers = problem.lip.layers
    stiffenings = [max(layer.stiffening) / layer.shear_modulus for layer in layers]
    moduli = [layer.shear_modulus for layer in layers]
    steps = [max(a, b) / min(a, b) for a, b in pairwise(moduli)]
    return (
        "lower stiffening_kpa: some of the tissue stiffens at once" if max(stiffenings) > STIFFENS_AT_ONCE else "",
        "stiffen the lip (stiffening_kpa)" if max(stiffenings) < HARDLY_STIFFENS else "",
        "make the layers less unlike (shear_modulus_kpa)" if max(steps, default=1.0) > UNLIKE else "",
    )


def _of_contact(problem: Problem) -> tuple[str, ...]:
    return (
        "round the bite (bite_radius_mm)" if problem.rim.bite_radius < ROUND_BITE_MM else "",
        "lower friction" if problem.load.friction > ROUGH else "",
    )
