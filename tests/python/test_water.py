"""Liquid water against the reference formulations of IAPWS, as the PyPI package `iapws` has them.

Density, heat capacity and heat of vaporisation: IAPWS-95 (R6-95). Viscosity: R12-08. Surface tension: R1-76. The
library itself uses the shorter releases SR6-08 and SR1-86, so that the two are worked out in different ways; only
the surface tension is one and the same equation.
"""

from __future__ import annotations

import functools

import iapws
import numpy as np
import pytest

import pourline
from pourline import water

ATMOSPHERE_MPA = 0.101325
# Water boils at 99.974 C at 1 atm; the saturated liquid replaces the last point.
TEMPERATURES_C = [*np.arange(0.5, 99.6, 3.3), 99.9, 100.0]


@functools.cache
def reference(t_c: float) -> tuple[float, float, float]:
    """Density, heat capacity and viscosity of the liquid."""
    t_k = t_c + 273.15
    state = iapws.IAPWS95(T=t_k, P=ATMOSPHERE_MPA) if t_c < 99.95 else iapws.IAPWS95(T=t_k, x=0)
    return state.rho, 1000 * state.cp, state.mu


@pytest.mark.parametrize("t_c", TEMPERATURES_C)
def test_liquid_water_is_that_of_the_reference(t_c: float) -> None:
    density, heat_capacity, viscosity = reference(float(t_c))
    assert water.density_kg_per_m3(t_c) == pytest.approx(density, rel=1e-6)
    assert water.heat_capacity_j_per_kg_k(t_c) == pytest.approx(heat_capacity, rel=5e-5)
    assert water.dynamic_viscosity_pa_s(t_c) == pytest.approx(viscosity, rel=5e-5)
    assert water.kinematic_viscosity_m2_per_s(t_c) == pytest.approx(viscosity / density, rel=5e-5)
    assert water.mass_g(1000, t_c) == pytest.approx(density, rel=1e-6)


@pytest.mark.parametrize("t_c", TEMPERATURES_C)
def test_the_border_between_water_and_vapour_is_that_of_the_reference(t_c: float) -> None:
    t_k = t_c + 273.15
    heat = 1000 * (iapws.IAPWS95(T=t_k, x=1).h - iapws.IAPWS95(T=t_k, x=0).h)
    assert water.heat_of_vaporisation_j_per_kg(t_c) == pytest.approx(heat, rel=2e-4)
    assert water.evaporation_share_per_k(t_c) == pytest.approx(reference(float(t_c))[1] / heat, rel=2e-4)
    assert water.surface_tension_n_per_m(t_c) == pytest.approx(iapws._iapws._Tension(t_k), rel=1e-12)


@pytest.mark.parametrize("name", water.__all__)
def test_ice_and_steam_are_refused(name: str) -> None:
    function = getattr(water, name)
    for t_c in (-0.1, 100.1, float("nan")):
        with pytest.raises(pourline.PourlineError, match="liquid at 1 atm from 0 to 100 C") as caught:
            function(300.0, t_c) if name == "mass_g" else function(t_c)
        assert (caught.value.kind, caught.value.column) == ("out_of_range", "t_c")
