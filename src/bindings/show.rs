//! In: a result of the core with its list of fields. Out: its Python class: docs, properties, their types.
//!
//! [`class!`] takes the list of `rows!`. The type of a field determines its Python value, by [`Show`].

use super::estimate::PyUndefined;
use crate::estimate::{Estimate, Undefined};
use crate::rows::{Row, Rows, Word};
use numpy::PyArray1;
use pyo3::IntoPyObjectExt;
use pyo3::prelude::*;
use pyo3::sync::PyOnceLock;
use pyo3::types::{PyDict, PyTuple};
use std::collections::BTreeMap;

/// Python value of a field.
pub(super) trait Show: Sized {
    /// Whether it is made at the first access and cached, so that each access returns the same object.
    const KEEP: bool = false;
    /// The same for a list of it.
    const KEEP_ALL: bool = Self::KEEP;
    /// Its type in a stub.
    fn hint() -> String;
    fn show(&self, py: Python<'_>) -> PyResult<Py<PyAny>>;

    fn hint_all() -> String {
        format!("list[{}]", Self::hint())
    }

    fn show_all(all: &[Self], py: Python<'_>) -> PyResult<Py<PyAny>> {
        all.iter().map(|one| one.show(py)).collect::<PyResult<Vec<_>>>()?.into_py_any(py)
    }
}

macro_rules! plain {
    ($($ty:ty: $hint:literal),*) => { $(
        impl Show for $ty {
            fn hint() -> String {
                $hint.into()
            }

            fn show(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
                self.clone().into_py_any(py)
            }
        }
    )* };
}
plain!(
    bool: "bool", usize: "int", u64: "int", i64: "int", String: "str", &'static str: "str", Estimate: "Estimate",
    BTreeMap<String, String>: "dict[str, str]"
);

impl Show for f64 {
    const KEEP_ALL: bool = true;

    fn hint() -> String {
        "float".into()
    }

    fn show(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        self.into_py_any(py)
    }

    fn hint_all() -> String {
        "_Array".into()
    }

    /// Read-only, because it is a result.
    fn show_all(all: &[Self], py: Python<'_>) -> PyResult<Py<PyAny>> {
        let array = PyArray1::from_slice(py, all);
        array.call_method1("setflags", (false,))?;
        array.into_py_any(py)
    }
}

impl<T: Show> Show for Vec<T> {
    const KEEP: bool = T::KEEP_ALL;

    fn hint() -> String {
        T::hint_all()
    }

    fn show(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        T::show_all(self, py)
    }
}

impl<T: Show, const N: usize> Show for [T; N] {
    fn hint() -> String {
        format!("tuple[{}]", [(); N].map(|()| T::hint()).join(", "))
    }

    fn show(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        let all = self.iter().map(|one| one.show(py)).collect::<PyResult<Vec<_>>>()?;
        PyTuple::new(py, all)?.into_py_any(py)
    }
}

impl<A: Show, B: Show> Show for (A, B) {
    fn hint() -> String {
        format!("tuple[{}, {}]", A::hint(), B::hint())
    }

    fn show(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        (self.0.show(py)?, self.1.show(py)?).into_py_any(py)
    }
}

impl<T: Show> Show for Option<T> {
    const KEEP: bool = T::KEEP;

    fn hint() -> String {
        format!("{} | None", T::hint())
    }

    fn show(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        self.as_ref().map_or_else(|| Ok(py.None()), |known| known.show(py))
    }
}

impl<T: Show> Show for Result<T, Undefined> {
    const KEEP: bool = T::KEEP;

    fn hint() -> String {
        format!("{} | Undefined", T::hint())
    }

    fn show(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        match self {
            Ok(known) => known.show(py),
            Err(why) => PyUndefined::from(why.clone()).into_py_any(py),
        }
    }
}

/// Kinds are shown by their names.
macro_rules! shown_words {
    ($($kind:ty),* $(,)?) => { $(
        impl Show for $kind {
            fn hint() -> String {
                let names = <$kind as Word>::NAMES.iter().map(|name| format!("{name:?}"));
                format!("Literal[{}]", names.collect::<Vec<_>>().join(", "))
            }

            fn show(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
                self.word().into_py_any(py)
            }
        }
    )* };
}
shown_words!(
    crate::agitation::break_up::Arrival,
    crate::condition::trace::Channel,
    crate::condition::trace::EventKind,
    crate::extraction::chart::Side,
    crate::live::now::LiveFlag,
    crate::plan::score::PlanItem,
    crate::plan::within::WithinTolerance,
    crate::extraction::result::BeverageSource,
    crate::extraction::result::Convention,
    crate::model::response::ResponseFamily,
    crate::model::response::ResponseSource,
    crate::agitation::result::SpeedSource,
    crate::study::guards::caution::CautionKind,
    crate::study::compare::contrasted::Verdict,
    crate::study::compare::inference::Inference,
    crate::study::dial_in::dialled::Fit,
    crate::study::dial_in::monotone::Direction,
    crate::study::gather::design::Layout,
    crate::study::profile::curve::LandmarkKind,
    crate::study::profile::options::Align,
    crate::study::profile::options::Axis,
);

/// Cached values of an object, by name, and the objects that answer for names it lacks.
pub(super) struct Shown {
    kept: PyOnceLock<Py<PyDict>>,
    pub(super) partners: Vec<Py<PyAny>>,
}

impl Shown {
    pub(super) fn new() -> Self {
        Self::with(Vec::new())
    }

    pub(super) fn with(partners: Vec<Py<PyAny>>) -> Self {
        Self { kept: PyOnceLock::new(), partners }
    }

    pub(super) fn look<T: Show>(&self, py: Python<'_>, name: &str, value: &T) -> PyResult<Py<PyAny>> {
        if !T::KEEP {
            return value.show(py);
        }
        self.keep(py, name, || value.show(py))
    }

    /// The result of `make`, cached at the first access.
    pub(super) fn keep(
        &self,
        py: Python<'_>,
        name: &str,
        make: impl FnOnce() -> PyResult<Py<PyAny>>,
    ) -> PyResult<Py<PyAny>> {
        let kept = self.kept.get_or_init(py, || PyDict::new(py).unbind()).bind(py);
        if let Some(shown) = kept.get_item(name)? {
            return Ok(shown.unbind());
        }
        Ok(kept.call_method1("setdefault", (name, make()?))?.unbind())
    }
}

/// [`Show::KEEP`] of a field.
pub(super) const fn keep<R, T: Show>(_: fn(&R) -> &T) -> bool {
    T::KEEP
}

/// [`Show::hint`] of a field.
pub(super) fn hint<R, T: Show>(_: fn(&R) -> &T) -> String {
    T::hint()
}

/// A class from a list of fields.
pub(super) trait Listed {
    /// The wrapped result.
    type Of: Rows + Show;
    /// Its properties, each with its type.
    fn types() -> Vec<(&'static str, String)>;
}

/// An uncertain number in a line of text.
pub(super) fn number_text(number: &crate::estimate::Maybe) -> String {
    number.as_ref().map_or_else(ToString::to_string, ToString::to_string)
}

/// Writes the class of a result: `PourRest! { class /// Example. PyPourRest("pourline", "PourRest") { other methods }
/// }`.
///
/// Properties that are no fields are before the methods: `[/// A sentence. low: f64 = |of| of.ends[0];]`.
macro_rules! class {
    ({ $name:ident $about:tt $({ $f:ident $doc:tt })* }
        $(#[$more:meta])* $py:ident($module:tt, $shown:tt)
        $([ $($(#[$said:meta])* $made:ident: $ty:ty = $make:expr;)* ])?
        { $($methods:tt)* }) => {
        #[doc = $about]
        #[doc = ""]
        $(#[$more])*
        #[pyclass(frozen, module = $module, name = $shown)]
        pub(super) struct $py {
            pub(super) inner: $name,
            shown: $crate::bindings::show::Shown,
        }

        impl From<$name> for $py {
            fn from(inner: $name) -> Self {
                Self { inner, shown: $crate::bindings::show::Shown::new() }
            }
        }

        impl $crate::bindings::show::Show for $name {
            const KEEP: bool = false $(|| $crate::bindings::show::keep(|of: &$name| &of.$f))*
                $($(|| <$ty as $crate::bindings::show::Show>::KEEP)*)?;

            fn hint() -> String {
                $shown.into()
            }

            fn show(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
                Ok(Py::new(py, $py::from(self.clone()))?.into_any())
            }
        }

        impl $crate::bindings::show::Listed for $py {
            type Of = $name;

            fn types() -> Vec<(&'static str, String)> {
                vec![
                    $((stringify!($f), $crate::bindings::show::hint(|of: &$name| &of.$f)),)*
                    $($((stringify!($made), <$ty as $crate::bindings::show::Show>::hint()),)*)?
                ]
            }
        }

        impl $crate::bindings::value::Value for $py {
            type Of = $name;

            fn of(&self) -> &$name {
                &self.inner
            }

            fn again(inner: $name, partners: Vec<Py<PyAny>>) -> Self {
                Self { inner, shown: $crate::bindings::show::Shown::with(partners) }
            }

            fn partners(&self) -> &[Py<PyAny>] {
                &self.shown.partners
            }
        }

        $crate::bindings::value::value! { $py {
            $(
                #[doc = $doc]
                #[getter]
                fn $f(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
                    self.shown.look(py, stringify!($f), &self.inner.$f)
                }
            )*

            $($(
                $(#[$said])*
                #[getter]
                fn $made(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
                    let make: fn(&$name) -> $ty = $make;
                    self.shown.look(py, stringify!($made), &make(&self.inner))
                }
            )*)?

            $($methods)*
        }}
    };
}
pub(super) use class;

/// A column in Python: class, name, sentence, unit, formula, validity, reference.
type Described = (String, [&'static str; 6]);

pub(super) fn described(owner: &str, rows: Vec<Row>) -> Vec<Described> {
    let one = |row: Row| {
        (owner.into(), [row.name, row.sentence(), row.unit, row.formula, row.valid, row.reference])
    };
    rows.into_iter().map(one).collect()
}

/// Adds the classes from lists, and their metadata: `_types`, `_rows` (with those of tables without a class),
/// `_units`.
macro_rules! classes {
    ($module:ident, [$($first:path),*], [$($class:path),* $(,)?], [$($more:expr),* $(,)?]) => {
        $($module.add_class::<$class>()?;)*
        let types: Vec<_> = [$((
            <<$class as show::Listed>::Of as show::Show>::hint(),
            <$class as show::Listed>::types(),
        )),*].into();
        let rows: Vec<_> = [
            $(show::described("", $first()),)*
            $(show::described(
                &<<$class as show::Listed>::Of as show::Show>::hint(),
                <<$class as show::Listed>::Of as crate::rows::Rows>::rows(),
            ),)*
            $(show::described("", $more()),)*
        ].concat();
        $module.add("_types", types)?;
        $module.add("_rows", rows)?;
        $module.add("_units", crate::rows::UNITS)?;
    };
}
pub(super) use classes;
