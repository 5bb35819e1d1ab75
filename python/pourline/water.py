"""Liquid water at 1 atm against its temperature in C, from 0 to 100.

>>> from pourline import water
>>> f"{water.mass_g(300, 93):.1f} g in 300 mL at 93 C"
'289.0 g in 300 mL at 93 C'
"""

from ._pourline import (
    density_kg_per_m3,
    dynamic_viscosity_pa_s,
    evaporation_share_per_k,
    heat_capacity_j_per_kg_k,
    heat_of_vaporisation_j_per_kg,
    kinematic_viscosity_m2_per_s,
    mass_g,
    surface_tension_n_per_m,
)

__all__ = [
    "density_kg_per_m3",
    "dynamic_viscosity_pa_s",
    "evaporation_share_per_k",
    "heat_capacity_j_per_kg_k",
    "heat_of_vaporisation_j_per_kg",
    "kinematic_viscosity_m2_per_s",
    "mass_g",
    "surface_tension_n_per_m",
]
