//! In: the library. Out: the compiled Python module `pourline._pourline`: thin frozen classes over an `inner`.
//!
//! Long calls release Python's global lock. What can be wrong with an argument is said by `PourlineError`.

mod arrays;
mod bed;
mod brew;
mod calibrate;
mod error;
mod estimate;
mod extraction;
mod flow;
mod json;
mod log;
mod many;
mod meta;
mod options;
mod score;
mod segments;
mod simulate;
mod sources;
mod stages;
mod table;
mod trace;
mod truth;

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
    module.add_class::<bed::PyBed>()?;
    module.add_class::<bed::PyBedCurve>()?;
    module.add_class::<bed::PyDrainLaw>()?;
    module.add_class::<bed::PyPourDrain>()?;
    module.add_class::<extraction::PyExtraction>()?;
    module.add_class::<extraction::PyBudgetRow>()?;
    module.add_class::<options::PyOptions>()?;
    module.add_class::<brew::PyBrew>()?;
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
    module.add_function(wrap_pyfunction!(bed::bed, module)?)?;
    module.add_function(wrap_pyfunction!(stages::analyze, module)?)?;
    module.add_function(wrap_pyfunction!(extraction::extraction, module)?)?;
    module.add_function(wrap_pyfunction!(simulate::simulate, module)?)?;
    module.add_function(wrap_pyfunction!(simulate::recipe, module)?)?;
    Ok(())
}
