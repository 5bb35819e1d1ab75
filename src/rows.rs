//! In: one list for each result. Out: its struct, its rows (name, unit, sentence, formula, validity, reference), and
//! the list for the bindings.
//!
//! [`rows!`] is that list. A field with a block after its type is a row: it can be a column of a table, and the block
//! states its formula, validity and reference. A field without one belongs to the result and to no table. The first
//! line of a field's doc is its sentence, the end of its name its unit. [`columns!`] is the list of a table without a
//! struct.

use crate::estimate::{Estimate, Maybe, Undefined};
use crate::table::{Table, Values};

/// The description of a row, without its values.
///
/// ```
/// use pourline::{Kind, Pour, Row, Rows};
/// let rows: Vec<Row> = Pour::rows();
/// let mass = rows.iter().find(|row| row.name == "mass_g").unwrap();
/// assert_eq!((mass.unit, mass.kind, mass.sentence()), ("g", Kind::Number, "Water that arrived in the pour"));
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Row {
    /// Name of the column, which ends in its unit.
    pub name: &'static str,
    /// Unit such as `g/s`; empty for a word, a count or a fraction.
    pub unit: &'static str,
    /// Kind of its values.
    pub kind: Kind,
    /// First line of the docs.
    pub doc: &'static str,
    /// The formula of the number.
    pub formula: &'static str,
    /// When it is valid.
    pub valid: &'static str,
    /// Its reference.
    pub reference: &'static str,
    /// 0, or more for a later place in the table than in the order of the fields.
    pub rank: u8,
}

impl Row {
    /// A row with defaults for the rest.
    pub(crate) fn new(name: &'static str, doc: &'static str, kind: Kind) -> Self {
        let reference = "definition of this library";
        Self { name, unit: unit(name), kind, doc, formula: "", valid: "always", reference, rank: 0 }
    }

    /// The sentence without unit and full stop.
    #[must_use]
    pub fn sentence(&self) -> &'static str {
        let text = self.doc.trim().trim_end_matches('.');
        let ends = [self.unit, if self.unit == "%" { "percent" } else { self.unit }];
        let without = |end: &str| text.strip_suffix(end).and_then(|text| text.strip_suffix(", "));
        ends.into_iter().filter(|end| !end.is_empty()).find_map(without).unwrap_or(text)
    }
}

/// Kind of the values of a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Uncertain numbers.
    Number,
    /// Counts.
    Whole,
    /// Words.
    Text,
}

/// The value of a row.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// An uncertain number.
    Number(Maybe),
    /// A count.
    Whole(i64),
    /// A word, empty if unknown.
    Text(&'static str),
}

/// A result that has rows.
///
/// ```
/// use pourline::{Cell, Options, Recipe, Rows, analyze, simulate};
/// let brew = analyze(&simulate(&Recipe::default(), 7)?.0, &Options::default())?;
/// let cells: Vec<Cell> = brew.segments.pours[0].cells();
/// assert!(matches!(cells[0], Cell::Number(Ok(start)) if start == brew.segments.pours[0].start_s));
/// # Ok::<(), pourline::Error>(())
/// ```
pub trait Rows {
    /// The rows, in the order of the table.
    fn rows() -> Vec<Row>;
    /// Their values.
    fn cells(&self) -> Vec<Cell>;
}

/// A kind with a short name, the same in tables, JSON and Python.
pub(crate) trait Word: Copy {
    /// All names, for the bindings.
    #[allow(dead_code)]
    const NAMES: &'static [&'static str];
    /// The name of this one.
    fn word(self) -> &'static str;
}

/// A type that can be in a row.
pub(crate) trait InRow {
    const KIND: Kind;
    fn cell(&self) -> Cell;
}

impl InRow for Maybe {
    const KIND: Kind = Kind::Number;

    fn cell(&self) -> Cell {
        Cell::Number(self.clone())
    }
}

impl InRow for Estimate {
    const KIND: Kind = Kind::Number;

    fn cell(&self) -> Cell {
        Cell::Number(Ok(*self))
    }
}

impl InRow for usize {
    const KIND: Kind = Kind::Whole;

    fn cell(&self) -> Cell {
        Cell::Whole(*self as i64)
    }
}

impl InRow for bool {
    const KIND: Kind = Kind::Whole;

    fn cell(&self) -> Cell {
        Cell::Whole(i64::from(*self))
    }
}

impl<T: Word> InRow for Option<T> {
    const KIND: Kind = Kind::Text;

    fn cell(&self) -> Cell {
        Cell::Text(self.map_or("", T::word))
    }
}

impl<T: Word> InRow for Result<T, Undefined> {
    const KIND: Kind = Kind::Text;

    fn cell(&self) -> Cell {
        Cell::Text(self.as_ref().map_or("", |kind| kind.word()))
    }
}

/// A type with an undefined value.
pub(crate) trait Unknown {
    fn unknown(why: &Undefined) -> Self;
}

impl Unknown for bool {
    fn unknown(_: &Undefined) -> Self {
        false
    }
}

impl<T> Unknown for Result<T, Undefined> {
    fn unknown(why: &Undefined) -> Self {
        Err(why.clone())
    }
}

impl<T> Unknown for Option<T> {
    fn unknown(_: &Undefined) -> Self {
        None
    }
}

/// Adds the rows of some results to a table, as columns: a number with its sd, a count, a word.
pub(crate) fn push<T: Rows>(table: &mut Table, results: &[T]) {
    let all: Vec<Vec<Cell>> = results.iter().map(Rows::cells).collect();
    for (i, row) in T::rows().iter().enumerate() {
        let cells = || all.iter().map(|cells| &cells[i]);
        let number = |of: fn(&Estimate) -> f64| {
            let known = |cell: &Cell| if let Cell::Number(Ok(number)) = cell { of(number) } else { f64::NAN };
            Values::Number(cells().map(known).collect())
        };
        let whole = |cell: &Cell| if let Cell::Whole(count) = cell { *count } else { 0 };
        let text = |cell: &Cell| if let Cell::Text(word) = cell { (*word).into() } else { String::new() };
        match row.kind {
            Kind::Number => {
                table.push(row.name, row.unit, number(|e| e.value));
                table.push(&sd_name(row.name), row.unit, number(|e| e.sd));
            }
            Kind::Whole => table.push(row.name, row.unit, Values::Whole(cells().map(whole).collect())),
            Kind::Text => table.push(row.name, row.unit, Values::Text(cells().map(text).collect())),
        }
    }
}

/// Ends of names and their units. An end that is part of another one stands after it.
pub(crate) const UNITS: [(&str, &str); 18] = [
    ("_g_per_s2", "g/s2"),
    ("_g2_per_s", "g2/s"),
    ("_g_per_s", "g/s"),
    ("_m_per_s", "m/s"),
    ("_j_per_g", "J/g"),
    ("_g_per_g", "g/g"),
    ("_g_per_l", "g/L"),
    ("_pct", "%"),
    ("_hz", "Hz"),
    ("_mm", "mm"),
    ("_m2", "m2"),
    ("_m", "m"),
    ("_s", "s"),
    ("_g", "g"),
    ("_n", "N"),
    ("_w", "W"),
    ("_j", "J"),
    ("_c", "C"),
];

/// The unit that a name ends in; empty if it ends in none.
pub(crate) fn unit(name: &str) -> &'static str {
    UNITS.iter().find(|(end, _)| name.ends_with(end)).map_or("", |(_, unit)| unit)
}

/// `mass_g` has its sd in `mass_sd_g`: the unit stays at the end.
pub(crate) fn sd_name(name: &str) -> String {
    // Temperatures and concentrations come from users only: their sd is `water_c_sd` and so on.
    let parted = |end: &str| !["_c", "_g_per_l"].contains(&end);
    let end = UNITS.iter().find(|(end, _)| parted(end) && name.ends_with(end)).map_or("", |(end, _)| end);
    format!("{}_sd{end}", name.strip_suffix(end).unwrap_or(name))
}

/// Writes a result from one list: its struct, [`Rows`] for it, and a macro of the struct's name that passes the list
/// on.
///
/// ```text
/// rows! { $
///     /// The result, in one line.
///     #[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
///     pub struct PourRest {
///         /// Rest before the pour, s.
///         pub rest_before_s: Maybe {
///             formula: "start_s less the end_s of the pour before",
///             valid: "a pour came before",
///         },
///         /// A result whose rows are inserted here.
///         pub stream: Stream { rows },
///         /// No row of a table.
///         pub warnings: Vec<String>,
///         /// Public in Rust, and no property in Python.
///         pub curve: Curve { hidden },
///         /// Only the crate sees it.
///         pub(crate) fit: Option<Fit>,
///     } undefined
/// }
/// ```
///
/// - The `$` is for the macro that passes the list on: no macro can write one by itself.
/// - Types that may be undefined are serialised by `maybe`; other attributes of serde come after the doc.
/// - A block may also set `name` (if the column is not called like the field), `unit` (if the name does not end in it)
///   and `rank`.
/// - `undefined`, if it is there, adds `undefined(why)`: all undefined, for one reason.
macro_rules! rows {
    // All fields are read: write everything.
    (@ $d:tt [$($head:tt)*] $name:ident $about:tt [$($undefined:ident)?] {$($fields:tt)*} {$({
        $f:ident $doc:tt ($ty:ty) $kind:ident {$($row:tt)*}
    })*} {$($hidden:ident)*}) => {
        $($head)*
        pub struct $name { $($fields)* }

        impl $crate::rows::Rows for $name {
            #[allow(clippy::vec_init_then_push)]
            fn rows() -> Vec<$crate::rows::Row> {
                #[allow(unused_mut)]
                let mut all = Vec::new();
                $($crate::rows::rows!(@rows $kind all $f $doc ($ty) {$($row)*});)*
                all
            }

            #[allow(clippy::vec_init_then_push)]
            fn cells(&self) -> Vec<$crate::rows::Cell> {
                #[allow(unused_mut)]
                let mut all = Vec::new();
                $($crate::rows::rows!(@cells $kind all (&self.$f));)*
                all
            }
        }

        $crate::rows::rows!(@undefined [$($undefined)?] $name $($f)*);

        #[allow(unused_macros)]
        macro_rules! callback {
            ($d to:ident $d($d more:tt)*) => {
                $d to! { { $name $about $({ $f $doc })* } $d($d more)* }
            };
        }
        #[allow(unused_imports)]
        pub(crate) use callback as $name;
    };

    (@undefined [] $($rest:tt)*) => {};
    (@undefined [$undefined:ident] $name:ident $($f:ident)*) => {
        impl $name {
            /// All undefined, for that reason.
            pub(crate) fn $undefined(why: &$crate::estimate::Undefined) -> Self {
                Self { $($f: $crate::rows::Unknown::unknown(why)),* }
            }
        }
    };
    (@rows none $all:ident $f:ident $doc:tt ($ty:ty) {}) => {};
    (@rows nested $all:ident $f:ident $doc:tt ($ty:ty) {}) => {
        $all.extend(<$ty as $crate::rows::Rows>::rows());
    };
    (@rows row $all:ident $f:ident $doc:tt ($ty:ty) {$($row:tt)*}) => {
        $all.push($crate::rows::Row {
            $($row)*
            ..$crate::rows::Row::new(stringify!($f), $doc, <$ty as $crate::rows::InRow>::KIND)
        });
    };
    (@cells none $all:ident ($value:expr)) => {};
    (@cells nested $all:ident ($value:expr)) => { $all.extend($crate::rows::Rows::cells($value)); };
    (@cells row $all:ident ($value:expr)) => { $all.push($crate::rows::InRow::cell($value)); };

    // One field after the other.
    (@ $d:tt $head:tt $name:ident $about:tt $un:tt {$($fields:tt)*} $list:tt {$($hidden:tt)*}
        $(#[$m:meta])* pub(crate) $f:ident: $ty:ty, $($rest:tt)*) => {
        $crate::rows::rows! { @ $d $head $name $about $un
            {$($fields)* $(#[$m])* pub(crate) $f: $ty,} $list {$($hidden)* $f} $($rest)* }
    };
    (@ $d:tt $head:tt $name:ident $about:tt $un:tt $fields:tt $list:tt $hidden:tt
        #[doc = $doc:tt] $(#[$m:meta])* pub $f:ident: Maybe $({ $($row:tt)* })?, $($rest:tt)*) => {
        $crate::rows::rows! { @field $d $head $name $about $un $fields $list $hidden
            [#[doc = $doc] $(#[$m])* #[serde(with = "crate::estimate::maybe")]]
            $f $doc ($crate::estimate::Maybe) [$({ $($row)* })?] $($rest)* }
    };
    (@ $d:tt $head:tt $name:ident $about:tt $un:tt $fields:tt $list:tt $hidden:tt
        #[doc = $doc:tt] $(#[$m:meta])* pub $f:ident: Result<$ty:ty, Undefined> $({ $($row:tt)* })?, $($rest:tt)*) => {
        $crate::rows::rows! { @field $d $head $name $about $un $fields $list $hidden
            [#[doc = $doc] $(#[$m])* #[serde(with = "crate::estimate::maybe")]]
            $f $doc (::std::result::Result<$ty, $crate::estimate::Undefined>) [$({ $($row)* })?] $($rest)* }
    };
    (@ $d:tt $head:tt $name:ident $about:tt $un:tt $fields:tt $list:tt $hidden:tt
        #[doc = $doc:tt] $(#[$m:meta])* pub $f:ident: $ty:ty $({ $($row:tt)* })?, $($rest:tt)*) => {
        $crate::rows::rows! { @field $d $head $name $about $un $fields $list $hidden
            [#[doc = $doc] $(#[$m])*] $f $doc ($ty) [$({ $($row)* })?] $($rest)* }
    };
    (@field $d:tt $head:tt $name:ident $about:tt $un:tt {$($fields:tt)*} {$($list:tt)*} $hidden:tt
        [$($m:tt)*] $f:ident $doc:tt ($ty:ty) [] $($rest:tt)*) => {
        $crate::rows::rows! { @ $d $head $name $about $un {$($fields)* $($m)* pub $f: $ty,}
            {$($list)* { $f $doc ($ty) none {} }} $hidden $($rest)* }
    };
    (@field $d:tt $head:tt $name:ident $about:tt $un:tt {$($fields:tt)*} $list:tt {$($hidden:tt)*}
        [$($m:tt)*] $f:ident $doc:tt ($ty:ty) [{ hidden }] $($rest:tt)*) => {
        $crate::rows::rows! { @ $d $head $name $about $un {$($fields)* $($m)* pub $f: $ty,}
            $list {$($hidden)* $f} $($rest)* }
    };
    (@field $d:tt $head:tt $name:ident $about:tt $un:tt {$($fields:tt)*} {$($list:tt)*} $hidden:tt
        [$($m:tt)*] $f:ident $doc:tt ($ty:ty) [{ rows }] $($rest:tt)*) => {
        $crate::rows::rows! { @ $d $head $name $about $un {$($fields)* $($m)* pub $f: $ty,}
            {$($list)* { $f $doc ($ty) nested {} }} $hidden $($rest)* }
    };
    (@field $d:tt $head:tt $name:ident $about:tt $un:tt {$($fields:tt)*} {$($list:tt)*} $hidden:tt
        [$($m:tt)*] $f:ident $doc:tt ($ty:ty) [{ $($row:tt)* }] $($rest:tt)*) => {
        $crate::rows::rows! { @ $d $head $name $about $un {$($fields)* $($m)* pub $f: $ty,}
            {$($list)* { $f $doc ($ty) row {$($row)*} }} $hidden $($rest)* }
    };

    // The list as it is written.
    ($d:tt #[doc = $about:tt] $(#[$m:meta])* pub struct $name:ident { $($fields:tt)* } $($undefined:ident)?) => {
        $crate::rows::rows! { @ $d [#[doc = $about] $(#[$m])*] $name $about [$($undefined)?] {} {} {} $($fields)* }
    };
}
pub(crate) use rows;

/// Writes `columns()`: the rows of a table without a struct. Each has a block, as in [`rows!`].
macro_rules! columns {
    ($(#[doc = $doc:tt] $name:ident { $($row:tt)* },)*) => {
        /// The columns of the stage's tables that are in no result.
        #[must_use]
        #[cfg_attr(not(feature = "python"), allow(dead_code))]
        pub fn columns() -> Vec<$crate::rows::Row> {
            use $crate::rows::{Kind, Row};
            vec![$(Row { $($row)* ..Row::new(stringify!($name), $doc, Kind::Number) }),*]
        }
    };
}
pub(crate) use columns;

/// Writes a kind with a name for each of its variants: the enum, as serde writes it, `name()`, and [`Word`].
macro_rules! words {
    ($(#[$m:meta])* pub enum $name:ident { $($(#[$v:meta])* $variant:ident = $word:literal,)* }) => {
        $(#[$m])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
        pub enum $name { $($(#[$v])* #[serde(rename = $word)] $variant,)* }

        impl $name {
            /// Its name, as in tables and JSON.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $(Self::$variant => $word,)* }
            }
        }

        impl $crate::rows::Word for $name {
            const NAMES: &'static [&'static str] = &[$($word),*];

            fn word(self) -> &'static str {
                self.name()
            }
        }
    };
}
pub(crate) use words;
