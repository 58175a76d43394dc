"""A geometry error crosses a process border whole."""

from __future__ import annotations

import pickle

from labrum.meshes.faults import Fault, GeometryError


def test_a_geometry_error_survives_pickling() -> None:
    faults = (Fault("rim.width_mm", "0", "more than 0 mm", "widen it"), Fault("rim.high_point", "2", "0 to 1"))
    back = pickle.loads(pickle.dumps(GeometryError(faults)))
    assert back.faults == faults
    assert str(back) == str(GeometryError(faults))
