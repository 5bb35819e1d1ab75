//! In: the library. Out: the compiled Python module `pourline._pourline`: thin frozen classes over an `inner`.
//!
//! Long calls release Python's global lock. What can be wrong with an argument is said by `PourlineError`.

mod agitation;
mod agreement;
mod arrays;
mod balance;
mod bed;
mod beverage;
mod brew;
mod calibrate;
mod chart;
mod compare;
mod contrast;
mod crossed;
mod dial;
mod dial_fits;
mod equivalence;
mod error;
mod estimate;
mod extraction;
mod flow;
mod icc;
mod interval;
mod inverse;
mod json;
mod labels;
mod live;
mod log;
mod many;
mod meta;
mod metrics;
mod options;
mod ordered;
mod plan;
mod plan_result;
mod planned_pour;
mod profile;
mod progress;
mod repeatability;
mod score;
mod segments;
mod show;
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
    show::classes!(
        module,
        [crate::brew::rows::columns],
        [
            segments::PyPour,
            metrics::PyPourMetrics,
            agitation::PyPourAgitation,
            bed::PyPourDrain,
            bed::PyBed,
            extraction::PyExtraction,
            metrics::PyMetrics,
            segments::PySegments,
            segments::PyRest,
            flow::PyFlow,
            agitation::PyAgitation,
            agitation::PyStream,
            bed::PyBedCurve,
            bed::PyDrainLaw,
            extraction::PyBudgetRow,
            balance::PyMonteCarlo,
            balance::PyFractions,
            balance::PyLearntRetention,
            profile::PyProfile,
            profile::PyLandmark,
            profile::PyOutlier,
            profile::PyDistance,
            study::PyStudy,
            study::PyDesign,
            compare::PyComparison,
            interval::PyInterval,
            interval::PyFTest,
            repeatability::PyRepeatability,
            icc::PyIcc,
            icc::PyIccForm,
            crossed::PyCrossed,
            crossed::PyComponents,
            crossed::PyComponent,
            agreement::PyAgreement,
            dial::PySettingFit,
            dial_fits::PyDialLine,
            dial_fits::PyMonotone,
            dial_fits::PyFitTest,
            dial::PyTargetSetting,
            beverage::PyMeanBeverage,
            contrast::PyContrasts,
            contrast::PyContrast,
            contrast::PyGroupSummary,
            equivalence::PyEquivalence,
        ],
        [
            crate::study::gather::columns::columns,
            crate::study::compare::columns::columns,
            <crate::study::compare::two_yields::TwoYields as crate::rows::Rows>::rows,
            crate::study::repeatability::columns::columns,
            crate::study::dial_in::columns::columns,
            crate::study::profile::columns::columns,
            crate::plan::columns::columns,
        ]
    );
    module.add_class::<estimate::PyEstimate>()?;
    module.add_class::<estimate::PyUndefined>()?;
    module.add_class::<meta::PyMeta>()?;
    module.add_class::<log::PyLog>()?;
    module.add_class::<trace::PyTrace>()?;
    module.add_class::<trace::PyChannelTrace>()?;
    module.add_class::<trace::PyEvent>()?;
    module.add_class::<options::PyOptions>()?;
    module.add_class::<brew::PyBrew>()?;
    module.add_class::<labels::PyLabels>()?;
    module.add_class::<labels::PyLabelled>()?;
    module.add_class::<live::PyLive>()?;
    module.add_class::<live::PyLiveState>()?;
    module.add_class::<plan::PyPlan>()?;
    module.add_class::<planned_pour::PyPlannedPour>()?;
    module.add_class::<plan_result::PyPlanResult>()?;
    module.add_class::<plan_result::PyPlannedPourResult>()?;
    module.add_class::<plan_result::PyExtraPour>()?;
    module.add_class::<progress::PyProgress>()?;
    module.add_class::<progress::PyProgressDay>()?;
    module.add_function(wrap_pyfunction!(progress::progress, module)?)?;
    module.add_function(wrap_pyfunction!(profile::profile, module)?)?;
    module.add_function(wrap_pyfunction!(profile::distance, module)?)?;
    module.add_function(wrap_pyfunction!(compare::compare, module)?)?;
    module.add_function(wrap_pyfunction!(study::gather, module)?)?;
    module.add_function(wrap_pyfunction!(repeatability::repeatability, module)?)?;
    module.add_function(wrap_pyfunction!(icc::icc, module)?)?;
    module.add_function(wrap_pyfunction!(crossed::crossed, module)?)?;
    module.add_function(wrap_pyfunction!(agreement::agreement, module)?)?;
    module.add_class::<truth::PyTruth>()?;
    module.add_class::<truth::PyTruePour>()?;
    module.add_class::<score::PyScore>()?;
    module.add_class::<score::PyErrors>()?;
    module.add_class::<calibrate::PyCalibration>()?;
    module.add_class::<calibrate::PyLoadStep>()?;
    module.add_function(wrap_pyfunction!(calibrate::calibrate, module)?)?;
    module.add_function(wrap_pyfunction!(sources::read, module)?)?;
    module.add_function(wrap_pyfunction!(many::analyze_each, module)?)?;
    module.add_function(wrap_pyfunction!(many::analyze_many, module)?)?;
    module.add_function(wrap_pyfunction!(score::score, module)?)?;
    module.add_function(wrap_pyfunction!(stages::condition, module)?)?;
    module.add_function(wrap_pyfunction!(stages::segment, module)?)?;
    module.add_function(wrap_pyfunction!(stages::flow, module)?)?;
    module.add_function(wrap_pyfunction!(metrics::metrics, module)?)?;
    module.add_function(wrap_pyfunction!(agitation::agitation, module)?)?;
    module.add_function(wrap_pyfunction!(bed::bed, module)?)?;
    module.add_function(wrap_pyfunction!(stages::analyze, module)?)?;
    module.add_function(wrap_pyfunction!(extraction::extraction, module)?)?;
    module.add_function(wrap_pyfunction!(simulate::simulate, module)?)?;
    module.add_function(wrap_pyfunction!(simulate::recipe, module)?)?;
    module.add_function(wrap_pyfunction!(simulate::levels, module)?)?;
    module.add_class::<dial::PySettingInterval>()?;
    module.add_function(wrap_pyfunction!(dial::dial_in, module)?)?;
    module.add_function(wrap_pyfunction!(beverage::mean_beverage, module)?)?;
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
    module.add_function(wrap_pyfunction!(contrast::contrast, module)?)?;
    module.add_function(wrap_pyfunction!(equivalence::equivalence, module)?)?;
    module.add_function(wrap_pyfunction!(equivalence::sample_size, module)?)?;
    module.add_function(wrap_pyfunction!(equivalence::minimum_detectable_difference, module)?)?;
    module.add_function(wrap_pyfunction!(equivalence::power, module)?)?;
    Ok(())
}
