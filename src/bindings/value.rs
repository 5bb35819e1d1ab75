//! In: a class of the bindings over a value of the library. Out: what makes it a value in Python: pickle, copies,
//! equality and hash by its bits, and errors for unknown names.
//!
//! A pickle holds the version and the value in MessagePack (https://msgpack.org), which keeps
//! every bit of a number. It is for processes of one version: other versions are refused. JSON is for files.

use super::error::PourlineError;
use super::nearest::{nearest, steps};
use crate::segment::flow::Flow;
use crate::segment::source::Source;
use pyo3::exceptions::{PyAttributeError, PyValueError};
use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyTuple, PyType};
use pyo3::{IntoPyObjectExt, PyClass};
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::any::Any;
use std::collections::BTreeSet;
use std::hash::{DefaultHasher, Hasher};

const VERSION: &str = env!("CARGO_PKG_VERSION");

/// Classes that a message lists.
const MOST_OWNERS: usize = 3;

/// A class that is a value.
pub(super) trait Value: PyClass {
    /// The wrapped value.
    type Of: Serialize + DeserializeOwned + 'static;
    fn of(&self) -> &Self::Of;
    /// A new object of a value, with the objects that answer for names it lacks.
    fn again(of: Self::Of, partners: Vec<Py<PyAny>>) -> Self;
    fn partners(&self) -> &[Py<PyAny>] {
        &[]
    }
}

/// All bits of a value.
pub(super) fn bits<T: Serialize + 'static>(of: &T) -> PyResult<Vec<u8>> {
    let written = match (of as &dyn Any).downcast_ref::<Flow>() {
        // A brew restores the source of its flow; a flow alone takes it along.
        Some(flow) => rmp_serde::to_vec_named(&(flow, &flow.source)),
        None => rmp_serde::to_vec_named(of),
    };
    written.map_err(|e| PyValueError::new_err(e.to_string()))
}

/// A value from its bits.
fn from_bits<T: DeserializeOwned + 'static>(bits: &[u8]) -> Result<T, rmp_serde::decode::Error> {
    let mut found = None::<T>;
    if let Some(place) = (&mut found as &mut dyn Any).downcast_mut::<Option<Flow>>() {
        let (flow, source): (Flow, Option<Source>) = rmp_serde::from_slice(bits)?;
        *place = Some(Flow { source, ..flow });
    }
    found.map_or_else(|| rmp_serde::from_slice(bits), Ok)
}

/// What pickle stores: the constructor with its arguments.
pub(super) fn reduce<'py, T: Value>(
    kind: &Bound<'py, PyType>,
    value: &T,
) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
    let py = kind.py();
    let bits = PyBytes::new(py, &bits(value.of())?);
    let mut stored = vec![VERSION.into_bound_py_any(py)?, bits.into_any()];
    stored.extend(value.partners().iter().map(|partner| partner.bind(py).clone()));
    Ok((kind.getattr("_unpickle")?, PyTuple::new(py, stored)?))
}

/// The value of a pickle. No stage is run.
pub(super) fn unpickle<T: Value>(
    kind: &Bound<'_, PyType>,
    version: &str,
    stored: &[u8],
    partners: &Bound<'_, PyTuple>,
) -> PyResult<T> {
    let refused = |why: String| -> PyResult<T> {
        let message = format!(
            "a pickled {} {why}: analyse the log again; for another version, store brews as JSON",
            kind.name()?
        );
        Err(PourlineError::new_err((message, "format")))
    };
    if version != VERSION {
        return refused(format!("is of version {version}, this is version {VERSION}"));
    }
    match from_bits(stored) {
        Ok(of) => Ok(T::again(of, partners.iter().map(Bound::unbind).collect())),
        Err(error) => refused(format!("cannot be read ({error})")),
    }
}

/// Whether two values have the same bits; a number that is undefined equals one that is undefined in the same place.
pub(super) fn equal<T: Value>(one: &T, other: &T) -> PyResult<bool> {
    Ok(std::ptr::eq(one, other) || bits(one.of())? == bits(other.of())?)
}

/// The hash of the same bits.
pub(super) fn hash<T: Value>(value: &T) -> PyResult<u64> {
    let mut hasher = DefaultHasher::new();
    hasher.write(&bits(value.of())?);
    Ok(hasher.finish())
}

/// The public names of an object.
fn names_of(object: &Bound<'_, PyAny>) -> PyResult<BTreeSet<String>> {
    let all: Vec<String> = object.get_type().dir()?.extract()?;
    Ok(all.into_iter().filter(|name| !name.starts_with('_')).collect())
}

/// An attribute that the class itself lacks: that of a partner, or an error that states the nearest name.
pub(super) fn attribute<'py>(
    object: &Bound<'py, PyAny>,
    partners: &[Py<PyAny>],
    name: &str,
) -> PyResult<Bound<'py, PyAny>> {
    let py = object.py();
    let kind = object.get_type().name()?.to_string();
    if name.starts_with('_') {
        return Err(PyAttributeError::new_err(format!("{kind} has no {name:?}")));
    }
    let mut known = names_of(object)?;
    for partner in partners {
        let partner = partner.bind(py);
        let names = names_of(partner)?;
        if names.contains(name) {
            return partner.getattr(name);
        }
        known.extend(names);
    }
    let types: Vec<(String, Vec<(String, String)>)> =
        py.import("pourline._pourline")?.getattr("_types")?.extract()?;
    let owners = types.iter().filter(|(_, members)| members.iter().any(|(member, _)| member == name));
    let owners: Vec<&str> = owners.map(|(owner, _)| owner.as_str()).take(MOST_OWNERS).collect();
    let nearest = nearest(name, known.iter().map(String::as_str));
    let instead = if owners.is_empty() || steps(name, nearest) == 1 {
        format!("the nearest is {nearest:?}")
    } else {
        format!("it is an attribute of {}", owners.join(", "))
    };
    Err(PyAttributeError::new_err(format!("{kind} has no {name:?}; {instead}")))
}

/// All names of an object and its partners, for completion.
pub(super) fn names(object: &Bound<'_, PyAny>, partners: &[Py<PyAny>]) -> PyResult<Vec<String>> {
    let mut all: BTreeSet<String> = object.get_type().dir()?.extract::<Vec<String>>()?.into_iter().collect();
    for partner in partners {
        all.extend(names_of(partner.bind(object.py()))?);
    }
    Ok(all.into_iter().collect())
}

/// Writes the methods of a class with those of a value: `value! { PyLog { other methods } }`. With `own` before the
/// braces the class compares itself.
macro_rules! value {
    ($py:ident { $($methods:tt)* }) => {
        $crate::bindings::value::value! { $py own {
            $($methods)*

            fn __eq__(&self, other: &Self) -> PyResult<bool> {
                $crate::bindings::value::equal(self, other)
            }

            fn __hash__(&self) -> PyResult<u64> {
                $crate::bindings::value::hash(self)
            }
        }}
    };
    ($py:ident own { $($methods:tt)* }) => {
        #[pymethods]
        #[allow(clippy::wrong_self_convention, reason = "a field may be called from_s")]
        impl $py {
            $($methods)*

            fn __reduce__<'py>(
                slf: &Bound<'py, Self>,
            ) -> PyResult<(Bound<'py, PyAny>, Bound<'py, pyo3::types::PyTuple>)> {
                $crate::bindings::value::reduce(&slf.get_type(), slf.get())
            }

            #[classmethod]
            #[pyo3(signature = (version, stored, *partners))]
            fn _unpickle(
                cls: &Bound<'_, pyo3::types::PyType>,
                version: &str,
                stored: &[u8],
                partners: &Bound<'_, pyo3::types::PyTuple>,
            ) -> PyResult<Self> {
                $crate::bindings::value::unpickle(cls, version, stored, partners)
            }

            /// Itself, because it does not change.
            fn __copy__(slf: Bound<'_, Self>) -> Bound<'_, Self> {
                slf
            }

            /// Itself, because it does not change.
            fn __deepcopy__<'py>(slf: Bound<'py, Self>, _memo: &Bound<'_, PyAny>) -> Bound<'py, Self> {
                slf
            }

            fn __getattr__<'py>(slf: &Bound<'py, Self>, name: &str) -> PyResult<Bound<'py, PyAny>> {
                let partners = $crate::bindings::value::Value::partners(slf.get());
                $crate::bindings::value::attribute(slf.as_any(), partners, name)
            }

            fn __dir__(slf: &Bound<'_, Self>) -> PyResult<Vec<String>> {
                let partners = $crate::bindings::value::Value::partners(slf.get());
                $crate::bindings::value::names(slf.as_any(), partners)
            }
        }
    };
}
pub(super) use value;

/// A class over one `inner` value is a [`Value`].
macro_rules! over_inner {
    ($py:ident, $name:ty) => {
        impl $crate::bindings::value::Value for $py {
            type Of = $name;

            fn of(&self) -> &$name {
                &self.inner
            }

            fn again(inner: $name, _: Vec<Py<PyAny>>) -> Self {
                inner.into()
            }
        }
    };
}
pub(super) use over_inner;
