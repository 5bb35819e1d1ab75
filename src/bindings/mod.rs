//! In: the library. Out: the compiled Python module `pourline._pourline`: thin frozen classes over an `inner`.
//!
//! Long calls release Python's global lock. Invalid arguments raise `PourlineError`.

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
mod control;
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
mod nearest;
mod options;
mod ordered;
mod plan;
mod plan_result;
mod planned_pour;
mod pour;
mod profile;
mod profile_difference;
mod progress;
mod repeatability;
mod rules;
mod run;
mod scale;
mod schedule;
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
mod value;
mod warned;
mod water;

use pyo3::prelude::*;

macro_rules! functions {
    ($module:ident, $($function:path),*) => {
        $($module.add_function(wrap_pyfunction!($function, $module)?)?;)*
    };
}

#[pymodule]
fn _pourline(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add("__version__", env!("CARGO_PKG_VERSION"))?;
    show::classes! {
        module,
        [crate::brew::rows::columns],
        [
            pour::PyPour, metrics::PyPourMetrics, agitation::PyPourAgitation, bed::PyPourDrain, bed::PyBed,
            extraction::PyExtraction, metrics::PyMetrics, segments::PySegments, segments::PyRest, flow::PyFlow,
            segments::PyFlowRegime, segments::PyCovariance, flow::PyFlowSpectrum,
            agitation::PyAgitation, agitation::PyStream, bed::PyBedCurve, bed::PyDrainLaw,
            extraction::PyBudgetRow, balance::PyMonteCarlo, balance::PyFractions, balance::PyLearntRetention,
            trace::PyEvent, trace::PyChannelTrace, trace::PyTrace, score::PyErrors, score::PyScore,
            truth::PyTruePour, truth::PyTruth, labels::PyLabels, labels::PyLabelled, live::PyLiveState,
             scale::PyLoadStep, scale::PyLinearity, scale::PyStamps, scale::PyCalibrationCurves,
             scale::PyScaleResponse, scale::PyCalibration, scale::PyScaleResolution, chart::PyChartBox, chart::PyPlace,
             progress::PyProgressDay, progress::PyProgress, progress::PyProgressChange, control::PyControlPoint,
             control::PyControlChart, plan_result::PyPlannedPourResult,
            plan_result::PyPlanResult, plan_result::PyExtraPour, plan_result::PyHabit, planned_pour::PyPlannedPour, meta::PyMeta,
            brew::PyBrew, profile::PyProfile, profile::PyLandmark, profile::PyOutlier, profile::PyDistance,
            profile_difference::PyProfileDifference, profile_difference::PyLandmarkDifference,
            study::PyStudy, study::PyDesign, schedule::PySchedule, compare::PyComparison, compare::PyCaution, interval::PyInterval, interval::PyFTest,
            repeatability::PyRepeatability, icc::PyIcc, icc::PyIccForm, crossed::PyCrossed,
            crossed::PyComponents, crossed::PyComponent, agreement::PyAgreement, dial::PySettingFit,
            dial_fits::PyDialLine, dial_fits::PyMonotone, dial_fits::PyFitTest, dial::PyTargetSetting,
            beverage::PyMeanBeverage, contrast::PyContrasts, contrast::PyContrast, contrast::PyGroupSummary,
            equivalence::PyEquivalence, equivalence::PyPowerCurve,
        ],
        [
            crate::condition::tables::columns,
            crate::segment::regimes::columns,
            crate::segment::spectrum::columns,
            crate::study::gather::columns::columns,
            crate::study::compare::columns::columns,
            <crate::study::compare::two_yields::TwoYields as crate::rows::Rows>::rows,
            crate::study::repeatability::columns::columns,
            crate::study::dial_in::columns::columns,
            crate::study::profile::columns::columns,
            crate::plan::columns::columns,
            crate::study::schedule::columns::columns,
        ]
    }
    module.add_class::<estimate::PyEstimate>()?;
    module.add_class::<estimate::PyUndefined>()?;
    module.add_class::<log::PyLog>()?;
    module.add_class::<options::PyOptions>()?;
    module.add_class::<rules::PyRules>()?;
    module.add_class::<live::PyLive>()?;
    module.add_class::<plan::PyPlan>()?;
    module.add_class::<dial::PySettingInterval>()?;
    functions! {
        module,
        progress::progress, control::control_chart, plan_result::habits, profile::profile, profile::distance,
        profile_difference::profile_difference, compare::compare, study::gather,
        repeatability::repeatability, icc::icc, crossed::crossed, agreement::agreement, calibrate::calibrate,
        sources::read, many::analyze_each, many::analyze_many, score::score, stages::condition, stages::segment,
        stages::flow, stages::split, stages::analyze_all, metrics::metrics, agitation::agitation, bed::bed,
        stages::analyze, extraction::extraction,
        simulate::simulate, simulate::recipe, simulate::levels, dial::dial_in, beverage::mean_beverage,
        balance::fractions, balance::retention_from_pairs, inverse::strength_for_pct, inverse::beverage_for_g,
        inverse::water_for_g, inverse::dose_for_g, inverse::dose_for_water_g, inverse::chart_line_pct,
        inverse::immersion_strength_pct, water::density_kg_per_m3, water::dynamic_viscosity_pa_s,
        water::kinematic_viscosity_m2_per_s, water::surface_tension_n_per_m, water::heat_capacity_j_per_kg_k,
        water::heat_of_vaporisation_j_per_kg, water::evaporation_share_per_k, water::mass_g, contrast::contrast,
        equivalence::equivalence, equivalence::sample_size, equivalence::minimum_detectable_difference,
        equivalence::power, equivalence::power_curve, schedule::design
    }
    Ok(())
}
