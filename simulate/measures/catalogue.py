"""Every measure of a result, declared once: name, type, unit, words, which way is better, error, when it is absent.

A measure is a field of `Measures` with its declaration beside its type. The result, the tables, the comparisons, the
pages, the sweeps and the README's table all draw on `CATALOGUE`; how a measure is read off a solution stands in
`labrum.simulate.readings.measures`.

Every number but the estimate itself has an estimated discretisation error, in its own unit: what it moved by between
the last two grids and, with friction, between two ways, and never less than a floor. Floors and weights were set on
random designs, without friction and with it, against far finer grids and ways (`python -m tests.studies.errors`): with
breath and contraction or without, with friction or without, and with all of these, as each has floors of its own. What
may jump has that added (`labrum.simulate.accuracy.undecided`). What is read on one grid only has a floor alone, or a
share of the peak's percentage; those off the axis were set on 100 designs tilted by half a degree, between lips a tenth
unlike, on an arch of 60 mm. This is the mesh's part: what the model leaves out is no smaller for it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields
from itertools import groupby
from math import nan
from typing import Annotated, Any, get_args, get_origin, get_type_hints

from labrum.simulate.measures.declaration import (
    Better,
    Claim,
    Declaration,
    FromMovement,
    Measure,
    ShareOfPeakError,
)

PRESSES = "How hard it presses"
FELT = "Where it is felt"
ENTERS = "What goes into the cup"
MOVES = "Whether the lip can move"
OFF_AXIS = "Off the axis"
NOT_ASKED = "not asked for"


@dataclass(frozen=True, kw_only=True)
class Measures:
    """The numbers read off a solution; ``None`` where a measure does not apply to the case.

    Units stand in the names: mm, mm2, mm3, kPa, percent; ratios have none. What each means is said beside it. Those
    that take more than one equilibrium have a default, for where they were not looked for. ``errors`` has the estimated
    discretisation error of each by its name, in its own unit, None for what does not apply and for a yes or no; it is
    empty where nothing was looked at but one equilibrium.
    """

    peak_pressure_kpa: Annotated[float, Declaration(
        heading=PRESSES, unit="kPa", label="peak pressure", words="largest pressure on the lip",
        meaning="largest contact pressure, lip pressed in",
        better=Better.LESS, error=ShareOfPeakError(1.0),
        claim=Claim("{} peaks higher than {}", "difference of the peaks"),
    )]
    peak_pressure_error_percent: Annotated[float, Declaration(
        heading="", unit="%", label="its error", words="estimated discretisation error of the peak",
        meaning="estimated discretisation error of the peak; it bounds the error in the playing cases it was set on, "
        "and in 29 of 30 random rims it was not set on",
        better=Better.LESS, more_than_one=True,
    )] = nan
    peak_radius_mm: Annotated[float, Declaration(
        heading=PRESSES, unit="mm", label="at radius", words="where that is, from the axis, lip pressed in",
        meaning="the radius where the peak is, lip pressed in",
        error=FromMovement(size=0.055, grids=2.25, alive=1.35, rubs=0.7, both=0.75), interval=True,
    )]
    mean_pressure_kpa: Annotated[float, Declaration(
        heading=PRESSES, unit="kPa", label="mean pressure",
        words="force that pressure carries, over contact area",
        meaning="∫p dA over contact area, the mean of the contact pressure there: force over area, but for what "
        "friction and the cup's wall carry",
        better=Better.LESS, error=FromMovement(share=0.005),
    )]
    contact_area_mm2: Annotated[float, Declaration(
        heading=PRESSES, unit="mm2", label="contact area", words="rim that touches, seen along the axis",
        meaning="the area of rim that touches, seen along the axis, tissue on the cup wall left out",
        error=FromMovement(share=0.005),
    )]
    bearing_area_mm2: Annotated[float, Declaration(
        heading=PRESSES, unit="mm2", label="bearing area", words="as carried by an even pressure: more floats better",
        meaning="(∫p dA)² / ∫p² dA over contact area, never more than that: the area of an even pressure that carries "
        "as well; the number for *flotation*",
        better=Better.MORE, error=FromMovement(share=0.0006, rubs=1.4, both=2.0),
        claim=Claim("{} bears on more area than {}", "difference of the bearing areas"),
    )]
    edge_to_crown_pressure: Annotated[float | None, Declaration(
        heading=PRESSES, label="edge to crown",
        words="peak on bite and shoulder over that on the crown: at most 1 is wide enough",
        meaning="peak on bite and shoulder over the peak on the crown's middle 70 %: at most 1 is *wide enough*",
        better=Better.LESS, error=FromMovement(size=0.019, grids=3.0, alive=1.25),
        absent="no crown between the edges, or nothing presses on its middle",
    )]
    edge_concentration: Annotated[float, Declaration(
        heading=PRESSES, label="edge concentration", words="peak over mean: more cuts more",
        meaning="peak over mean pressure; with the stretch below the number for *cutting*",
        better=Better.LESS, error=FromMovement(share=0.0065, rubs=1.5),
        claim=Claim("{} concentrates the load more than {}", "difference of peak over mean"),
    )]
    skin_stretch_max: Annotated[float, Declaration(
        heading=PRESSES, label="skin stretch", words="largest stretch of the top layer: more cuts more",
        meaning="the largest principal stretch of the top layer",
        better=Better.LESS, error=FromMovement(share=0.0024, grids=3.5, steps=4.0, alive=2.6, rubs=3.3),
        claim=Claim("{} stretches the skin more than {}", "difference of the largest stretches"),
    )]
    felt_diameter_mm: Annotated[float, Declaration(
        heading=FELT, unit="mm", label="felt diameter", words="of the ring where the force is felt",
        meaning="2 ∫p r dA / ∫p dA, of the ring where the force is felt: rims of one nominal diameter can differ here",
        error=FromMovement(size=0.0004, grids=0.25, steps=4.0, alive=4.8, rubs=8.5, both=14.5, deep=2.0),
        interval=True,
        claim=Claim("{} feels larger than {}", "difference of the felt diameters"),
    )]
    felt_drift_mm_per_10n: Annotated[float | None, Declaration(
        heading=FELT, unit="mm", label="felt drift", words="how far that moves when the force rises by 10 N",
        meaning="how far the felt diameter moves when the force rises by 10 N: nearer nought is steadier",
        error=FromMovement(size=0.006, share=0.07, alive=0.43, rubs=0.95, both=0.75),
        absent="no equilibrium with 10 N more",
        more_than_one=True, interval=True,
    )] = None
    edge_drift_mm_per_10n: Annotated[float | None, Declaration(
        heading=FELT, unit="mm", label="edge drift", words="how far the inner edge of contact moves in with 10 N",
        meaning="how far the inner edge of contact moves in, in diameter, when the force rises by 10 N",
        # Contact vanishes gently: where it begins is hard to tell.
        error=FromMovement(size=0.048, alive=0.8, rubs=0.85, both=1.0),
        absent="no equilibrium with 10 N more, or contact goes on up the cup's wall", more_than_one=True, interval=True,
    )] = None
    contact_inner_radius_mm: Annotated[float, Declaration(
        heading=FELT, unit="mm", label="contact from", words="radius where the rim begins to touch",
        meaning="the radius where contact with the rim begins",
        error=FromMovement(size=0.0095, grids=3.0, steps=6.0, rubs=0.55, both=0.6),
    )]
    contact_outer_radius_mm: Annotated[float, Declaration(
        heading=FELT, unit="mm", label="contact to", words="radius where it ends",
        meaning="the radius where contact with the rim ends",
        error=FromMovement(size=0.015, grids=2.0, rubs=0.8),
    )]
    contact_width_mm: Annotated[float, Declaration(
        heading=FELT, unit="mm", label="contact width", words="how much of the rim's width touches",
        meaning="how much of the rim's width touches: the outer radius of contact less the inner",
        error=FromMovement(size=0.022),  # both radii's, added
    )]
    sink_mm: Annotated[float, Declaration(
        heading=FELT, unit="mm", label="sink", words="how deep the high point stands below the resting lip",
        meaning="travel of the high point below the resting lip",
        error=FromMovement(size=0.00014, grids=0.75, steps=4.0, alive=5.0, rubs=3.0, both=18.0, deep=4.0),
    )]
    past_bite: Annotated[bool, Declaration(
        heading=ENTERS, label="past the bite", words="does tissue stand beyond the bite plane",
        meaning="does tissue stand beyond the bite plane, inside the bite",
    )]
    intrusion_height_mm: Annotated[float, Declaration(
        heading=ENTERS, unit="mm", label="intrusion height", words="how far beyond",
        meaning="how far beyond the bite plane it stands",
        better=Better.LESS, error=FromMovement(size=0.0002, steps=3.0, alive=13.5, rubs=6.0, both=10.5, deep=2.0),
    )]
    intrusion_volume_mm3: Annotated[float, Declaration(
        heading=ENTERS, unit="mm3", label="intrusion volume", words="how much beyond",
        meaning="how much stands beyond the bite plane",
        better=Better.LESS, error=FromMovement(size=0.1, grids=1.5, steps=3.0, alive=2.0, rubs=2.9, both=4.4, deep=1.0),
        claim=Claim("{} lets more tissue past the bite than {}", "difference of the volumes"),
    )]
    drawn_in_volume_mm3: Annotated[float, Declaration(
        heading=ENTERS, unit="mm3", label="drawn in", words="the part of it that rested under or outside the rim",
        meaning="the part of that volume that rested under the rim or outside it: tissue pushed past the bite",
        better=Better.LESS, error=FromMovement(size=0.0005, share=0.002, grids=1.8),
    )]
    height_past_high_point_mm: Annotated[float | None, Declaration(
        heading=ENTERS, unit="mm", label="crest", words="how far tissue stands over the plane of the rim's high point",
        meaning="the tissue's crest inside the bite over the plane of the high point, negative below it; unlike the "
        "bite plane, that plane stays where it is when the bite is sharpened",
        better=Better.LESS, error=FromMovement(size=0.0002, steps=3.0, alive=13.5, rubs=6.0, both=10.5, deep=2.0),
        absent="no tissue inside the bite", interval=True,
    )]
    height_by_muscle_mm: Annotated[float | None, Declaration(
        heading=ENTERS, unit="mm", label="crest by muscle", words="the part of that which contraction added",
        meaning="the part of that crest which contraction added; the rest came with pressing and breath",
        error=FromMovement(size=0.005), absent="no muscle contracts", more_than_one=True, interval=True,
    )] = None
    touches_cup: Annotated[bool | None, Declaration(
        heading=ENTERS, label="touches the cup", words="does the lip reach the cup's wall or floor",
        meaning="does the lip reach the cup's wall or floor",
        absent="no cup is drawn",
    )]
    cup_clearance_mm: Annotated[float | None, Declaration(
        heading=ENTERS, unit="mm", label="cup clearance", words="gap left to the cup",
        meaning="the way from the lip's crest to the cup; 0 where they touch",
        error=FromMovement(size=0.00015, grids=2.5, steps=6.0, alive=8.7, rubs=1.5, both=6.7), absent="no cup is drawn",
    )]
    cup_wall_reach_mm: Annotated[float | None, Declaration(
        heading=ENTERS, unit="mm", label="cup wall reach", words="length of cup wall that the lip touches",
        meaning="length of cup wall and floor, along the profile, that tissue touches",
        error=FromMovement(size=0.012, rubs=1.4, both=1.0), absent="no cup is drawn",
    )]
    sticking_share: Annotated[float | None, Declaration(
        heading=MOVES, label="sticking", words="share of the rim's load on lip that does not slide",
        meaning="the share of the rim's normal load on nodes that stick",
        error=FromMovement(size=0.05, steps=6.0, both=0.8),  # some nodes more or less
        absent="no friction",
    )]
    lift_off_area_mm2: Annotated[float | None, Declaration(
        heading=MOVES, unit="mm2", label="lifted off", words="back of the lip that has left the teeth",
        meaning="the area of the back face, outside the tooth gap, that has left the teeth",
        # And the columns whose nodes disagree: see `labrum.simulate.accuracy.undecided`.
        error=FromMovement(size=20.0, grids=0.4, steps=1.0, alive=1.5, both=0.6),
        absent="the back is bonded",
    )]
    closing_travel_ratio: Annotated[float | None, Declaration(
        heading=MOVES, label="closing travel",
        words="how far the muscle closes the opening, rim on over rim off: 1 free, 0 pinned",
        meaning="inward travel of the opening's narrowest place when the muscle contracts, rim on over rim off: 1 is "
        "free, 0 is *pinned*",
        better=Better.MORE, error=FromMovement(size=0.0026, both=1.15), absent="no muscle contracts",
        more_than_one=True,
        claim=Claim("{} leaves the lip freer than {}", "difference of the closing travels"),
    )] = None
    closing_travel_ratio_skin: Annotated[float | None, Declaration(
        heading=MOVES, label="closing at the skin",
        words="the same at the skin, over the opening's rim off: below 0 it opens there",
        meaning="inward travel of the margin at the skin over that of the narrowest place with the rim off: below 0 it "
        "opens there",
        better=Better.MORE, error=FromMovement(size=0.0072), absent="no muscle contracts", more_than_one=True,
        interval=True,
    )] = None
    muscle_shortening_ratio: Annotated[float | None, Declaration(
        heading=MOVES, label="muscle shortening", words="how much the muscle's fibres shorten, rim on over rim off",
        meaning="how much the muscle's fibres shorten, rim on over rim off; above 1 where the press had stretched "
        "them and the stiffening muscle takes that back",
        better=Better.MORE, error=FromMovement(size=0.0036, both=0.7), absent="no muscle contracts", more_than_one=True,
    )] = None
    aperture_stiffness_n_per_mm: Annotated[float | None, Declaration(
        heading=MOVES, unit="N/mm", label="aperture stiffness",
        words="load all round the opening that widens it by 1 mm in radius",
        meaning="load all round the opening over how far it widens, in radius",
        error=FromMovement(share=0.03), absent="no opening",
    )]
    lip_compliance_um_per_kpa: Annotated[float | None, Declaration(
        heading=MOVES, unit="um/kPa", label="lip compliance",
        words="how far 1 kPa on the lip's front moves it, 2 mm from the axis",
        meaning="how far a pressure on the front inside the rim moves it along the axis, at the ring that rests at "
        "r = 2 mm, a kPa: the rim stands still, contact is held",
        error=FromMovement(share=0.02, grids=2.5), more_than_one=True,
        absent="vibration was not asked for, or the rim covers the whole front",
    )] = None
    lip_mode_hz: Annotated[float | None, Declaration(
        heading=MOVES, unit="Hz", label="lip mode",
        words="natural frequency of the mode that air in the cup drives best",
        meaning="natural frequency, undamped, of the axisymmetric mode of the lip inside the rim that answers most of "
        "a pressure on its front; another mode may have that part in another case, and then the number jumps",
        error=FromMovement(share=0.01, grids=2.0), absent="vibration was not asked for, or no mode stands out",
        more_than_one=True,
    )] = None
    peak_percent_per_degree: Annotated[float | None, Declaration(
        heading=OFF_AXIS, unit="%/deg", label="peak per degree", words="by how much a degree of tilt raises the peak",
        meaning="by how much a degree of tilt raises the peak, at the peak's own radius on the side that goes down",
        better=Better.LESS, error=FromMovement(share=0.016, grids=1.5), absent=NOT_ASKED, more_than_one=True,
        claim=Claim("{} minds a tilt more than {}", "difference of the peak's rise per degree"),
    )] = None
    tilt_for_ten_percent_deg: Annotated[float | None, Declaration(
        heading=OFF_AXIS, unit="deg", label="tilt for 10 %",
        words="tilt that raises the peak by a tenth: how forgiving the rim is",
        meaning="the tilt that raises the peak by a tenth, in a straight line: how *forgiving* the rim is",
        better=Better.MORE, error=FromMovement(share=0.016, grids=1.5), absent=NOT_ASKED, more_than_one=True,
    )] = None
    tilt_to_lift_deg: Annotated[float | None, Declaration(
        heading=OFF_AXIS, unit="deg", label="tilt to lift off",
        words="tilt at which the rim leaves the lip on one side",
        meaning="the tilt at which pressure is gone all across the rim on the side that rises, in a straight line",
        better=Better.MORE, error=FromMovement(size=0.03, grids=0.9),
        absent="not asked for, or no tilt lifts it off", more_than_one=True,
    )] = None
    tilt_holds_to_deg: Annotated[float | None, Declaration(
        heading=OFF_AXIS, unit="deg", label="tilt holds to", words="tilt up to which the straight line holds",
        meaning="the tilt up to which the straight line holds: where pressure is first gone inside the contact",
        error=FromMovement(share=0.033, rubs=0.7), absent=NOT_ASKED, more_than_one=True,
    )] = None
    tilted_peak_kpa: Annotated[float | None, Declaration(
        heading=OFF_AXIS, unit="kPa", label="tilted peak", words="largest pressure at the tilt asked for",
        meaning="the largest pressure at the tilt asked for, on the side that goes down",
        better=Better.LESS, error=FromMovement(share=0.004, grids=3.0, rubs=2.5), absent="no tilt asked for",
        more_than_one=True,
    )] = None
    tilted_peak_radius_mm: Annotated[float | None, Declaration(
        heading=OFF_AXIS, unit="mm", label="tilted peak at", words="radius where that is, lip pressed in",
        meaning="the radius where the tilted peak is, lip pressed in",
        error=FromMovement(size=0.04, grids=1.5), absent="no tilt asked for", more_than_one=True, interval=True,
    )] = None
    rocking_stiffness_nmm_per_deg: Annotated[float | None, Declaration(
        heading=OFF_AXIS, unit="Nmm/deg", label="rocking stiffness",
        words="moment that a degree of tilt takes: more is steadier",
        meaning="the moment that a degree of tilt about the middle of the rim's lowest circle takes, the rim held "
        "from shifting: more is steadier",
        better=Better.MORE, error=FromMovement(share=0.006), absent=NOT_ASKED, more_than_one=True,
        claim=Claim("{} is harder to rock than {}", "difference of the rocking stiffness"),
    )] = None
    sideways_stiffness_n_per_mm: Annotated[float | None, Declaration(
        heading=OFF_AXIS, unit="N/mm", label="sideways stiffness",
        words="force that shifts the rim by 1 mm in its plane: compare rims by it",
        meaning="the force that shifts the rim by a millimetre in its plane before anything slips, the rim held "
        "from tilting; without friction an even lip resists no shift",
        better=Better.MORE, error=FromMovement(share=0.004), absent="not asked for, or without friction",
        more_than_one=True,
    )] = None
    sideways_holds_to_mm: Annotated[float | None, Declaration(
        heading=OFF_AXIS, unit="mm", label="shift holds to", words="shift up to which that holds",
        meaning="the shift up to which that holds: where the whole rim would slide, or pressure is first gone inside "
        "the contact",
        error=FromMovement(share=0.004), absent="not asked for, or without friction", more_than_one=True,
    )] = None
    lower_lip_share: Annotated[float | None, Declaration(
        heading=OFF_AXIS, label="lower lip's share", words="of the force, between lips as unlike as was asked",
        meaning="the lower half's share of the force between lips as unlike as was asked, rim straight and centred",
        error=FromMovement(size=0.0009, rubs=0.8), absent="no unlike lips asked for", more_than_one=True,
    )] = None
    felt_offset_mm: Annotated[float | None, Declaration(
        heading=OFF_AXIS, unit="mm", label="felt offset",
        words="how far the centre of the force lies towards the lower lip",
        meaning="how far the centre of the force lies from the axis, towards the lower lip",
        error=FromMovement(size=0.002, share=0.004), absent="no unlike lips asked for", more_than_one=True,
        interval=True,
    )] = None
    lower_lip_peak_kpa: Annotated[float | None, Declaration(
        heading=OFF_AXIS, unit="kPa", label="lower lip's peak", words="largest pressure at the lower lip's middle",
        meaning="the largest pressure at the lower lip's middle, between lips as unlike as was asked",
        better=Better.LESS, error=FromMovement(share=0.013, grids=4.0, rubs=1.4), absent="no unlike lips asked for",
        more_than_one=True,
    )] = None
    upper_lip_peak_kpa: Annotated[float | None, Declaration(
        heading=OFF_AXIS, unit="kPa", label="upper lip's peak", words="largest pressure at the upper lip's middle",
        meaning="the largest pressure at the upper lip's middle, between lips as unlike as was asked",
        better=Better.LESS, error=FromMovement(share=0.015, grids=4.0), absent="no unlike lips asked for",
        more_than_one=True,
    )] = None
    unlike_lips_hold_to: Annotated[float | None, Declaration(
        heading=OFF_AXIS, label="unlike lips hold to", words="times the difference asked for, up to which that holds",
        meaning="how many times the difference asked for these answers hold to; below 1 they do not hold",
        error=FromMovement(share=0.034, rubs=0.45), absent="no unlike lips asked for", more_than_one=True,
    )] = None
    front_teeth_peak_kpa: Annotated[float | None, Declaration(
        heading=OFF_AXIS, unit="kPa", label="front teeth's peak",
        words="largest pressure over the front teeth, on the arch",
        meaning="the largest pressure over the front teeth, above and below, on an arch of the radius asked for",
        better=Better.LESS, error=FromMovement(share=0.04, grids=1.5, rubs=0.4), absent="no arch asked for",
        more_than_one=True,
    )] = None
    corners_peak_kpa: Annotated[float | None, Declaration(
        heading=OFF_AXIS, unit="kPa", label="corners' peak",
        words="largest pressure towards the corners of the mouth, on the arch",
        meaning="the largest pressure towards the corners of the mouth, on that arch",
        better=Better.LESS, error=FromMovement(share=0.1, rubs=0.15), absent="no arch asked for", more_than_one=True,
    )] = None
    arch_holds_to_mm: Annotated[float | None, Declaration(
        heading=OFF_AXIS, unit="mm", label="arch holds to", words="radius of the most bent arch for which that holds",
        meaning="the radius of the most bent arch for which these two hold",
        error=FromMovement(square=0.0034, rubs=0.25), absent="no arch asked for", more_than_one=True,
    )] = None  # fmt: skip
    errors: Mapping[str, float | None] = field(default_factory=dict, kw_only=True)


def _declared() -> Iterator[Measure]:
    hints = get_type_hints(Measures, include_extras=True)
    for entry in fields(Measures):
        if entry.name == "errors":  # of all the others
            continue
        assert get_origin(hints[entry.name]) is Annotated, f"{entry.name} is not declared"
        kind, said = get_args(hints[entry.name])
        kinds: tuple[Any, ...] = get_args(kind) or (kind,)
        parts = {part.name: getattr(said, part.name) for part in fields(said)}
        yield Measure(name=entry.name, fact=bool in kinds, optional=type(None) in kinds, **parts)


CATALOGUE: dict[str, Measure] = {measure.name: measure for measure in _declared()}
"""Every measure by its name, in the order shown."""

GROUPS: tuple[tuple[str, tuple[Measure, ...]], ...] = tuple(
    (heading, tuple(group))
    for heading, group in groupby((m for m in CATALOGUE.values() if m.heading), key=lambda m: m.heading)
)
"""The measures that have a row of their own, under their headings."""


def groups_of(*results: Measures) -> tuple[tuple[str, tuple[Measure, ...]], ...]:
    """`GROUPS`, that off the axis only where some result has it: what nobody asked about takes no room."""
    return tuple(
        (heading, measures)
        for heading, measures in GROUPS
        if heading != OFF_AXIS or any(getattr(one, m.name) is not None for one in results for m in measures)
    )


ERROR_OF_PEAK = "peak_pressure_error_percent"
"""Shown beside the peak rather than in a row of its own."""
