//! In: the library. Out: the compiled Python module `pourline._pourline`: thin frozen classes over an `inner`.
//!
//! Long calls release Python's global lock. What can be wrong with an argument is said by `PourlineError`.

mod arrays;
mod balance;
mod bed;
mod brew;
mod calibrate;
mod chart;
mod error;
mod estimate;
mod extraction;
mod flow;
mod inverse;
mod json;
mod log;
mod many;
mod measures;
mod meta;
mod options;
mod score;
mod segments;
mod simulate;
mod sources;
mod stages;
mod study;
mod table;
mod trace;
mod truth;
mod water;

use pyo3::prelude::*;

#[pymodule]
fn _pourline(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add("__version__", env!("CARGO_PKG_VERSION"))?;
    module.add_class::<estimate::PyEstimate>()?;
    module.add_class::<estimate::PyUndefined>()?;
    module.add_class::<meta::PyMeta>()?;
    module.add_class::<log::PyLog>()?;
    module.add_class::<trace::PyTrace>()?;
    module.add_class::<trace::PyChannelTrace>()?;
    module.add_class::<trace::PyEvent>()?;
    module.add_class::<segments::PySegments>()?;
    module.add_class::<segments::PyPour>()?;
    module.add_class::<segments::PyRest>()?;
    module.add_class::<flow::PyFlow>()?;
    module.add_class::<measures::PyMeasures>()?;
    module.add_class::<measures::PyPourMeasures>()?;
    module.add_class::<bed::PyBed>()?;
    module.add_class::<bed::PyBedCurve>()?;
    module.add_class::<bed::PyDrainLaw>()?;
    module.add_class::<bed::PyPourDrain>()?;
    module.add_class::<extraction::PyExtraction>()?;
    module.add_class::<extraction::PyBudgetRow>()?;
    module.add_class::<options::PyOptions>()?;
    module.add_class::<brew::PyBrew>()?;
    module.add_class::<study::PyStudy>()?;
    module.add_class::<study::PyDesign>()?;
    module.add_function(wrap_pyfunction!(study::gather, module)?)?;
    module.add_class::<truth::PyTruth>()?;
    module.add_class::<truth::PyTruePour>()?;
    module.add_class::<score::PyScore>()?;
    module.add_class::<score::PyErrors>()?;
    module.add_class::<calibrate::PyCalibration>()?;
    module.add_class::<calibrate::PyLoadStep>()?;
    module.add_function(wrap_pyfunction!(calibrate::calibrate, module)?)?;
    module.add_function(wrap_pyfunction!(sources::read, module)?)?;
    module.add_function(wrap_pyfunction!(many::analyze_many, module)?)?;
    module.add_function(wrap_pyfunction!(score::score, module)?)?;
    module.add_function(wrap_pyfunction!(stages::condition, module)?)?;
    module.add_function(wrap_pyfunction!(stages::segment, module)?)?;
    module.add_function(wrap_pyfunction!(stages::flow, module)?)?;
    module.add_function(wrap_pyfunction!(measures::measures, module)?)?;
    module.add_function(wrap_pyfunction!(bed::bed, module)?)?;
    module.add_function(wrap_pyfunction!(stages::analyze, module)?)?;
    module.add_function(wrap_pyfunction!(extraction::extraction, module)?)?;
    module.add_function(wrap_pyfunction!(simulate::simulate, module)?)?;
    module.add_function(wrap_pyfunction!(simulate::recipe, module)?)?;
    module.add_class::<balance::PyMonteCarlo>()?;
    module.add_class::<balance::PyFractions>()?;
    module.add_class::<balance::PyLearntRetention>()?;
    module.add_class::<chart::PyChartBox>()?;
    module.add_class::<chart::PyPlace>()?;
    module.add_function(wrap_pyfunction!(balance::fractions, module)?)?;
    module.add_function(wrap_pyfunction!(balance::retention_from_pairs, module)?)?;
    module.add_function(wrap_pyfunction!(inverse::strength_for_pct, module)?)?;
    module.add_function(wrap_pyfunction!(inverse::beverage_for_g, module)?)?;
    module.add_function(wrap_pyfunction!(inverse::water_for_g, module)?)?;
    module.add_function(wrap_pyfunction!(inverse::dose_for_g, module)?)?;
    module.add_function(wrap_pyfunction!(inverse::dose_for_water_g, module)?)?;
    module.add_function(wrap_pyfunction!(inverse::chart_line_pct, module)?)?;
    module.add_function(wrap_pyfunction!(inverse::immersion_strength_pct, module)?)?;
    module.add_function(wrap_pyfunction!(water::density_kg_per_m3, module)?)?;
    module.add_function(wrap_pyfunction!(water::dynamic_viscosity_pa_s, module)?)?;
    module.add_function(wrap_pyfunction!(water::kinematic_viscosity_m2_per_s, module)?)?;
    module.add_function(wrap_pyfunction!(water::surface_tension_n_per_m, module)?)?;
    module.add_function(wrap_pyfunction!(water::heat_capacity_j_per_kg_k, module)?)?;
    module.add_function(wrap_pyfunction!(water::heat_of_vaporisation_j_per_kg, module)?)?;
    module.add_function(wrap_pyfunction!(water::evaporation_share_per_k, module)?)?;
    module.add_function(wrap_pyfunction!(water::mass_g, module)?)?;
    Ok(())
}
