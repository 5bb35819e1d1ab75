//! In: the name of a column as a person or a logger wrote it. Out: its meaning in the words of `roles`, such as
//! `water (g)`.
//!
//! The lists are open: a word in a further language is one more entry. A word of up to three Latin letters must stand
//! alone; any other may be a part of a longer word (`Wassermenge`). A name with a unit that is not listed, or a word of
//! `OTHER`, keeps its own meaning: flow and temperature are neither water nor beverage.

/// English, German, French, Spanish, Italian, Portuguese, Dutch, Russian, Japanese, Korean, Chinese.
const TIME: &[&str] = &[
    "time",
    "elapsed",
    "zeit",
    "dauer",
    "uhrzeit",
    "temps",
    "heure",
    "dur\u{e9}e",
    "horodatage",
    "tiempo",
    "hora",
    "tempo",
    "ora",
    "tijd",
    "\u{432}\u{440}\u{435}\u{43c}\u{44f}",
    "\u{6642}\u{9593}",
    "\u{6642}\u{523b}",
    "\u{7d4c}\u{904e}",
    "\u{c2dc}\u{ac04}",
    "\u{ac00}\u{acfc}",
    "\u{acbd}\u{acfc}",
    "\u{c2dc}\u{ac01}",
    "\u{65f6}\u{95f4}",
    "\u{65f6}\u{523b}",
];
const WEIGHT: &[&str] = &[
    "weight",
    "mass",
    "gewicht",
    "masse",
    "poids",
    "peso",
    "masa",
    "massa",
    "\u{43c}\u{430}\u{441}\u{441}\u{430}",
    "\u{432}\u{435}\u{441}",
    "scale",
    "waage",
    "balance",
    "balanza",
    "bilancia",
    "balan\u{e7}a",
    "weegschaal",
    "\u{432}\u{435}\u{441}\u{44b}",
    "\u{91cd}\u{91cf}",
    "\u{91cd}\u{3055}",
    "\u{8cea}\u{91cf}",
    "\u{8d28}\u{91cf}",
    "\u{bb34}\u{ac8c}",
    "\u{c911}\u{b7c9}",
    "\u{c9c8}\u{b7c9}",
];
/// Names that stand for a weight if they are the whole name, as in `m/g`.
const SYMBOLS: [&str; 2] = ["m", "w"];
const WATER: &[&str] = &[
    "water",
    "poured",
    "wasser",
    "aufguss",
    "eau",
    "vers\u{e9}",
    "agua",
    "vertida",
    "acqua",
    "versata",
    "\u{e1}gua",
    "\u{432}\u{43e}\u{434}\u{430}",
    "\u{432}\u{43e}\u{434}\u{44b}",
    "\u{6e6f}",
    "\u{6c34}",
    "\u{bb3c}",
];
const BEVERAGE: &[&str] = &[
    "beverage",
    "cup",
    "server",
    "carafe",
    "tasse",
    "kanne",
    "becher",
    "karaffe",
    "getr\u{e4}nk",
    "boisson",
    "taza",
    "jarra",
    "bebida",
    "tazza",
    "caraffa",
    "bevanda",
    "x\u{ed}cara",
    "copo",
    "kopje",
    "kop",
    "beker",
    "drank",
    "\u{43d}\u{430}\u{43f}\u{438}\u{442}",
    "\u{447}\u{430}\u{448}\u{43a}",
    "\u{441}\u{435}\u{440}\u{432}\u{435}\u{440}",
    "\u{30ab}\u{30c3}\u{30d7}",
    "\u{30b5}\u{30fc}\u{30d0}\u{30fc}",
    "\u{62bd}\u{51fa}",
    "\u{98f2}\u{6599}",
    "\u{cef5}",
    "\u{c11c}\u{bc84}",
    "\u{cd94}\u{cd9c}",
    "\u{c74c}\u{b8cc}",
    "\u{676f}",
    "\u{8403}\u{53d6}",
    "\u{996e}\u{6599}",
];
/// What is measured beside the weights, or is no reading.
const OTHER: &[&str] = &[
    "flow",
    "rate",
    "speed",
    "temp.",
    "temper",
    "target",
    "change",
    "delta",
    "fluss",
    "d\u{e9}bit",
    "flujo",
    "caudal",
    "portata",
    "vaz\u{e3}o",
    "fluxo",
    "debiet",
    "stroom",
    "\u{43f}\u{43e}\u{442}\u{43e}\u{43a}",
    "\u{440}\u{430}\u{441}\u{445}\u{43e}\u{434}",
    "\u{442}\u{435}\u{43c}\u{43f}\u{435}\u{440}",
    "ziel",
    "cible",
    "objetivo",
    "dose",
    "dosis",
    "\u{6d41}",
    "\u{6e29}",
    "\u{c720}\u{b7c9}",
    "\u{c628}\u{b3c4}",
    "\u{76ee}\u{6807}",
    "\u{76ee}\u{6a19}",
    "\u{bb3c}\u{c628}\u{b3c4}",
];
/// Words for units, by the short word of each.
const UNITS: [(&str, &[&str]); 9] = [
    (
        "s",
        &[
            "s",
            "sec",
            "secs",
            "second",
            "seconds",
            "sek",
            "sekunde",
            "sekunden",
            "secondes",
            "seconde",
            "seg",
            "segundo",
            "segundos",
            "secondi",
            "seconden",
            "\u{441}",
            "\u{441}\u{435}\u{43a}",
            "\u{441}\u{435}\u{43a}\u{443}\u{43d}\u{434}\u{44b}",
            "\u{79d2}",
            "\u{cd08}",
        ],
    ),
    (
        "ms",
        &[
            "ms",
            "msec",
            "millis",
            "milliseconds",
            "millisekunden",
            "millisecondes",
            "milisegundos",
            "millisecondi",
            "milissegundos",
            "milliseconden",
            "\u{43c}\u{441}",
            "\u{30df}\u{30ea}\u{79d2}",
            "\u{6beb}\u{79d2}",
            "\u{bc00}\u{b9ac}\u{cd08}",
        ],
    ),
    (
        "us",
        &["us", "\u{b5}s", "\u{3bc}s", "usec", "micros", "microseconds", "mikrosekunden", "\u{5fae}\u{79d2}"],
    ),
    ("ns", &["ns", "nsec", "nanos", "nanoseconds", "nanosekunden"]),
    ("min", &["min", "mins", "minute", "minutes", "minuten", "minutos", "minuti", "\u{5206}", "\u{bd84}"]),
    (
        "g",
        &[
            "g",
            "gr",
            "gram",
            "grams",
            "gramm",
            "gramme",
            "grammes",
            "gramo",
            "gramos",
            "grammi",
            "grama",
            "gramas",
            "\u{433}",
            "\u{433}\u{440}",
            "\u{433}\u{440}\u{430}\u{43c}\u{43c}\u{44b}",
            "\u{30b0}\u{30e9}\u{30e0}",
            "\u{adf8}\u{b7a8}",
            "\u{514b}",
        ],
    ),
    (
        "kg",
        &["kg", "kilogram", "kilograms", "kilogramm", "kilogrammes", "\u{5343}\u{514b}", "\u{516c}\u{65a4}"],
    ),
    ("mg", &["mg", "milligram", "milligrams", "milligramm"]),
    ("oz", &["oz", "ounce", "ounces", "unze", "unzen"]),
];
/// A longer name is a text.
const LONGEST: usize = 120;
/// Ways to write a clock that has its own unit.
const CLOCKS: [&str; 12] = [
    "mm:ss",
    "m:ss",
    "m:s",
    "mm:ss.s",
    "mm:ss.f",
    "mm:ss.ms",
    "hh:mm:ss",
    "h:mm:ss",
    "h:m:s",
    "hh:mm:ss.s",
    "hh:mm:ss.f",
    "hh:mm:ss.ms",
];

/// The short word of a unit in any of the languages.
pub(super) fn unit(word: &str) -> Option<&'static str> {
    let word = word.trim().trim_end_matches('.').to_lowercase();
    UNITS.iter().find(|(_, words)| words.contains(&word.as_str())).map(|(short, _)| *short)
}

fn is_time_unit(unit: &str) -> bool {
    matches!(unit, "s" | "ms" | "us" | "ns" | "min")
}

/// The name in the words of `roles`; the name itself if it has no such meaning.
pub(super) fn meaning(name: &str) -> String {
    let known = if name.len() > LONGEST { None } else { meant(&name.trim().to_lowercase()) };
    known.unwrap_or_else(|| name.into())
}

fn meant(name: &str) -> Option<String> {
    let (stem, unit) = parts(name)?;
    let has = |words: &[&str]| words.iter().any(|word| mentions(stem, word));
    if has(OTHER) {
        return None;
    }
    let is_time = unit.map_or_else(|| has(TIME), is_time_unit);
    let word = match (is_time, stem.is_empty(), unit) {
        // A unit alone, such as `Sekunden`; `s` or `g` alone is no name.
        (_, true, Some(unit)) if name.chars().count() > 3 || !name.is_ascii() => {
            return Some(if is_time { format!("time ({unit})") } else { format!("weight ({unit})") });
        }
        (true, _, _) if has(TIME) => "time",
        (false, _, _) if has(BEVERAGE) => "cup",
        (false, _, _) if has(WATER) => "water",
        (false, _, _) if has(WEIGHT) || SYMBOLS.contains(&stem) => "weight",
        _ => return None,
    };
    Some(unit.map_or_else(|| word.into(), |unit| format!("{word} ({unit})")))
}

/// Stem and unit; None if brackets hold what is no unit.
fn parts(name: &str) -> Option<(&str, Option<&'static str>)> {
    const OPEN: [char; 3] = ['(', '[', '\u{ff08}'];
    if let Some(inner) = name.strip_suffix([')', ']', '\u{ff09}']) {
        let (stem, inside) = inner.rsplit_once(OPEN)?;
        let stem = stem.trim();
        return if CLOCKS.contains(&inside.trim()) {
            Some((stem, None))
        } else {
            Some((stem, Some(unit(inside)?)))
        };
    }
    let is_break = |c: char| !c.is_alphanumeric();
    let last = name.rsplit(is_break).next().unwrap_or(name);
    match unit(last) {
        Some(short) => Some((name[..name.len() - last.len()].trim_end_matches(is_break), Some(short))),
        None => Some((name, None)),
    }
}

fn mentions(stem: &str, word: &str) -> bool {
    let is_short = word.chars().count() <= 3 && word.chars().all(|c| c < '\u{2e80}');
    if is_short {
        stem.split(|c: char| !c.is_alphanumeric()).any(|part| part == word)
    } else {
        stem.contains(word)
    }
}

#[cfg(test)]
mod tests {
    use super::meaning;

    /// The words as dictionaries have them.
    #[test]
    fn a_name_has_its_meaning_in_eleven_languages() {
        for (name, expected) in [
            ("Elapsed time (s)", "time (s)"),
            ("Zeit [Sekunden]", "time (s)"),
            ("Wassermenge in Gramm", "water (g)"),
            ("Gewicht", "weight"),
            ("Poids de l'eau (g)", "water (g)"),
            ("Temps_ms", "time (ms)"),
            ("Peso (gramos)", "weight (g)"),
            ("Tazza", "cup"),
            ("X\u{ed}cara (g)", "cup (g)"),
            ("Tijd", "time"),
            ("\u{6642}\u{9593}\u{ff08}\u{79d2}\u{ff09}", "time (s)"),
            ("\u{6ce8}\u{6e6f}\u{91cf}(g)", "water (g)"),
            ("\u{cd94}\u{cd9c}\u{b7c9}", "cup"),
            ("\u{c2dc}\u{ac04} (\u{cd08})", "time (s)"),
            ("\u{91cd}\u{91cf}\u{ff08}\u{514b}\u{ff09}", "weight (g)"),
            ("Sekunden", "time (s)"),
            ("Time (mm:ss)", "time"),
            ("Server weight", "cup"),
            ("server time", "time"),
            ("\u{412}\u{440}\u{435}\u{43c}\u{44f}, \u{441}", "time (s)"),
            ("\u{41c}\u{430}\u{441}\u{441}\u{430}, \u{433}", "weight (g)"),
            ("\u{41c}\u{430}\u{441}\u{441}\u{430} \u{432}\u{43e}\u{434}\u{44b} (\u{433})", "water (g)"),
            ("m/g", "weight (g)"),
            ("w", "weight"),
            ("Scale Reading", "weight"),
        ] {
            assert_eq!(meaning(name), expected, "{name}");
        }
    }

    #[test]
    fn what_is_neither_time_nor_weight_keeps_its_name() {
        for name in [
            "Wassertemperatur",
            "water flow",
            "Durchfluss Wasser",
            "water (ml)",
            "weight (g/s)",
            "\u{6d41}\u{91cf}",
            "tableau",
            "s",
            "g",
            "Zeit (hh:mm)",
            "note",
            "height m",
            "Zielgewicht (g)",
            "\u{c628}\u{b3c4}",
        ] {
            assert_eq!(meaning(name), name);
        }
    }
}
