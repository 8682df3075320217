//! Figures one a line, for a spreadsheet: each line says the herd, the days, the figure and its value.

use ledger_format::measures::About;
use serde::Serialize;
use serde_json::Value;

use super::Shown;
use crate::fail::Fail;
use daemon::Trouble;

/// Every figure as a line of comma-separated values (RFC 4180), with a heading.
pub(super) fn csv<T: Shown + Serialize>(figures: &T) -> Result<String, Fail> {
    let failed = |error: &dyn std::fmt::Display| -> Fail {
        Trouble::new(format!("could not write the figures: {error}"), "use `--format json`").into()
    };
    let mut rows = Vec::new();
    let mut value = serde_json::to_value(figures).map_err(|error| failed(&error))?;
    if let Value::Object(fields) = &mut value {
        fields.retain(|name, _| !["about", "definitions", "warnings"].contains(&name.as_str()));
    }
    flatten("", &value, &mut rows);
    let of = |text: fn(&About) -> &str| figures.about().map_or("", text);
    let (herd, from, to) = (of(|about| &about.seen.herd), of(|about| &about.from), of(|about| &about.to));
    let known = of(|about| about.seen.known.as_deref().unwrap_or(""));
    let mut out = csv::Writer::from_writer(Vec::new());
    let heading = ["herd", "from", "to", "known", "figure", "value"];
    out.write_record(heading).map_err(|error| failed(&error))?;
    for (figure, value) in rows {
        let row = [herd, from, to, known, &figure, &value];
        out.write_record(row).map_err(|error| failed(&error))?;
    }
    let bytes = out.into_inner().map_err(|error| failed(&error))?;
    String::from_utf8(bytes).map_err(|error| failed(&error))
}

/// `lame.percent`, and rows of a list by number from 1: `steps.2.recovered`. What is null has no line.
fn flatten(path: &str, value: &Value, rows: &mut Vec<(String, String)>) {
    let under = |name: &str| if path.is_empty() { name.to_owned() } else { format!("{path}.{name}") };
    match value {
        Value::Null => {}
        Value::Object(fields) => fields.iter().for_each(|(name, value)| flatten(&under(name), value, rows)),
        Value::Array(values) => {
            (1..).zip(values).for_each(|(nth, value)| flatten(&under(&i32::to_string(&nth)), value, rows));
        }
        Value::String(text) => rows.push((path.to_owned(), text.clone())),
        Value::Bool(is) => rows.push((path.to_owned(), if *is { "yes" } else { "no" }.to_owned())),
        Value::Number(number) => rows.push((path.to_owned(), number.to_string())),
    }
}
