//! Pictures as SVG: text stays text, nothing is said by colour alone, and all of it is readable in grey print.
//! Colours are those of Okabe and Ito (2008), which colour-blind people can tell apart.

use ledger_format::measures::Limits;
use maud::{Markup, html};

const BLUE: &str = "#0072B2";
const VERMILION: &str = "#D55E00";
const GREY: &str = "#555555";
const PALE: &str = "#D9D9D9";

const WIDTH: f64 = 720.0;
/// Room for numbers right of the axis.
const RIGHT: f64 = 190.0;
/// How wide a letter is at most, on average.
const LETTER: f64 = 7.4;
const TOP: f64 = 64.0;
const ROW: f64 = 24.0;
const PLOT_HEIGHT: f64 = 260.0;

/// A picture.
pub(crate) struct Picture {
    /// What it shows, with herd and days.
    pub(crate) title: String,
    /// The axis of values, with its unit.
    pub(crate) axis: String,
    /// What is drawn.
    pub(crate) drawn: Drawn,
}

/// What is drawn.
pub(crate) enum Drawn {
    /// One row each, and a value that they are held against, with its name.
    Rows { rows: Vec<Row>, aim: Option<(f64, String)> },
    /// Values one after the other, with the limits that chance alone keeps to.
    Series { points: Vec<Point>, level: Option<f64> },
    /// Steps down from 100 %, by day.
    Curve(Vec<Step>),
}

/// A row: a label, a value with its limits, and its numbers in words.
pub(crate) struct Row {
    pub(crate) label: String,
    pub(crate) value: f64,
    pub(crate) limits: Option<Limits>,
    pub(crate) numbers: String,
}

/// A point of a series.
pub(crate) struct Point {
    pub(crate) label: String,
    pub(crate) value: f64,
    pub(crate) limits: Option<Limits>,
}

impl Point {
    fn is_beyond(&self) -> bool {
        self.limits.is_some_and(|limits| self.value < limits.lower || self.value > limits.upper)
    }
}

/// A step of a curve.
pub(crate) struct Step {
    pub(crate) day: f64,
    pub(crate) value: f64,
    pub(crate) limits: Option<Limits>,
}

impl Picture {
    /// A picture of rows, if there are any.
    pub(crate) fn of_rows(title: String, axis: String, rows: Vec<Row>) -> Option<Self> {
        (!rows.is_empty()).then_some(Self { title, axis, drawn: Drawn::Rows { rows, aim: None } })
    }

    /// The same with a line at a value that the rows are held against.
    pub(crate) fn held_against(mut self, value: f64, name: String) -> Self {
        if let Drawn::Rows { aim, .. } = &mut self.drawn {
            *aim = Some((value, name));
        }
        self
    }

    /// The picture as a file of its own.
    pub(crate) fn svg(&self) -> String {
        format!("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n{}\n", self.markup().into_string())
    }

    /// The picture inside a page.
    pub(crate) fn markup(&self) -> Markup {
        let height = match &self.drawn {
            Drawn::Rows { rows, aim } => TOP + ROW * rows.len() as f64 + if aim.is_some() { 68.0 } else { 50.0 },
            Drawn::Series { .. } | Drawn::Curve(_) => TOP + PLOT_HEIGHT + 70.0,
        };
        html! {
            svg xmlns="http://www.w3.org/2000/svg" viewBox=(format!("0 0 {WIDTH} {height}")) width=(WIDTH) height=(height) role="img" font-family="sans-serif" font-size="13" {
                title { (self.title) }
                desc { (self.words()) }
                rect width="100%" height="100%" fill="#FFFFFF" {}
                text x="12" y="24" font-size="16" font-weight="bold" fill="#000000" { (self.title) }
                text x="12" y="44" fill=(GREY) { (self.axis) }
                @match &self.drawn {
                    Drawn::Rows { rows, aim } => (rows_of(rows, aim.as_ref())),
                    Drawn::Series { points, level } => (series(points, *level)),
                    Drawn::Curve(steps) => (curve(steps)),
                }
            }
        }
    }

    /// The same for who cannot see it.
    fn words(&self) -> String {
        let words: Vec<String> = match &self.drawn {
            Drawn::Rows { rows, aim } => {
                let rows = rows.iter().map(|row| format!("{}: {}", row.label, row.numbers));
                rows.chain(aim.iter().map(|(_, name)| name.clone())).collect()
            }
            Drawn::Series { points, .. } => {
                points.iter().map(|point| format!("{}: {:.1}", point.label, point.value)).collect()
            }
            Drawn::Curve(steps) => {
                steps.iter().map(|step| format!("day {:.0}: {:.0} %", step.day, step.value)).collect()
            }
        };
        words.join("; ")
    }
}

/// Round numbers up to at least a value: about five, each 1, 2 or 5 times a power of ten apart.
fn ticks(most: f64) -> Vec<f64> {
    let rough = (most / 5.0).max(0.1);
    let power = 10_f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].into_iter().map(|of| of * power).find(|step| *step >= rough).unwrap_or(rough);
    let last = (most / step).ceil().max(1.0) as u32;
    (0..=last).map(|nth| f64::from(nth) * step).collect()
}

fn end(limits: Option<Limits>, value: f64) -> f64 {
    limits.map_or(value, |limits| limits.upper.max(value))
}

fn tick_text(tick: f64) -> String {
    if tick.fract() == 0.0 { format!("{tick:.0}") } else { format!("{tick:.1}") }
}

fn rows_of(rows: &[Row], aim: Option<&(f64, String)>) -> Markup {
    let most =
        rows.iter().map(|row| end(row.limits, row.value)).chain(aim.map(|(value, _)| *value)).fold(1.0, f64::max);
    let ticks = ticks(most);
    let last = ticks.last().copied().unwrap_or(1.0);
    let longest = rows.iter().map(|row| row.label.chars().count()).max().unwrap_or(0);
    let left = (LETTER * longest as f64 + 24.0).clamp(90.0, 270.0);
    let x = |value: f64| left + (WIDTH - left - RIGHT) * (value / last).min(1.0);
    let bottom = TOP + ROW * rows.len() as f64;
    html! {
        @for tick in &ticks {
            line x1=(x(*tick)) x2=(x(*tick)) y1=(TOP - 6.0) y2=(bottom) stroke=(PALE) {}
            text x=(x(*tick)) y=(bottom + 18.0) text-anchor="middle" fill=(GREY) { (tick_text(*tick)) }
        }
        @if let Some((value, name)) = aim {
            line x1=(x(*value)) x2=(x(*value)) y1=(TOP - 6.0) y2=(bottom) stroke="#000000" stroke-dasharray="2 3" {}
            text x="12" y=(bottom + 42.0) fill=(GREY) { "dotted line: " (name) }
        }
        @for (nth, row) in rows.iter().enumerate() {
            @let y = TOP + ROW * (nth as f64 + 0.5);
            text x=(left - 10.0) y=(y + 4.0) text-anchor="end" fill="#000000" { (row.label) }
            @if let Some(Limits { lower, upper }) = row.limits {
                line x1=(x(lower)) x2=(x(upper)) y1=(y) y2=(y) stroke=(BLUE) stroke-width="2" {}
            }
            circle cx=(x(row.value)) cy=(y) r="4.5" fill=(BLUE) {}
            text x=(WIDTH - RIGHT + 12.0) y=(y + 4.0) fill="#000000" { (row.numbers) }
        }
    }
}

/// Where values stand in a plot.
struct Plot {
    last: f64,
    left: f64,
}

impl Plot {
    fn y(&self, value: f64) -> f64 {
        TOP + PLOT_HEIGHT * (1.0 - (value / self.last).clamp(0.0, 1.0))
    }

    fn grid(&self, ticks: &[f64]) -> Markup {
        html! {
            @for tick in ticks {
                line x1=(self.left) x2=(WIDTH - 20.0) y1=(self.y(*tick)) y2=(self.y(*tick)) stroke=(PALE) {}
                text x=(self.left - 8.0) y=(self.y(*tick) + 4.0) text-anchor="end" fill=(GREY) { (tick_text(*tick)) }
            }
        }
    }
}

fn line_through(places: &[(f64, f64)]) -> String {
    places.iter().map(|(x, y)| format!("{x:.1},{y:.1}")).collect::<Vec<_>>().join(" ")
}

/// Limits.
fn broken_line(places: &[(f64, f64)]) -> Markup {
    html! { polyline points=(line_through(places)) fill="none" stroke=(GREY) stroke-dasharray="6 4" {} }
}

fn series(points: &[Point], level: Option<f64>) -> Markup {
    let ticks = ticks(points.iter().map(|point| end(point.limits, point.value)).fold(1.0, f64::max));
    let plot = Plot { last: ticks.last().copied().unwrap_or(1.0), left: 60.0 };
    let room = WIDTH - 40.0 - plot.left;
    let x = |nth: usize| plot.left + 10.0 + room * nth as f64 / (points.len().max(2) - 1) as f64;
    let places: Vec<(f64, f64)> = points.iter().enumerate().map(|(nth, point)| (x(nth), plot.y(point.value))).collect();
    let limit = |of: fn(Limits) -> f64| -> Vec<(f64, f64)> {
        points.iter().enumerate().filter_map(|(nth, point)| Some((x(nth), plot.y(of(point.limits?))))).collect()
    };
    // Labels that would run into each other are left out.
    let each = points.len().div_ceil(8).max(1);
    html! {
        (plot.grid(&ticks))
        (broken_line(&limit(|limits| limits.lower)))
        (broken_line(&limit(|limits| limits.upper)))
        @if let Some(level) = level {
            line x1=(plot.left) x2=(WIDTH - 20.0) y1=(plot.y(level)) y2=(plot.y(level)) stroke=(GREY) {}
        }
        polyline points=(line_through(&places)) fill="none" stroke=(BLUE) stroke-width="2" {}
        @for (nth, (point, (x, y))) in points.iter().zip(&places).enumerate() {
            @if point.is_beyond() {
                rect x=(x - 6.0) y=(y - 6.0) width="12" height="12" fill=(VERMILION) stroke="#000000" {}
            } @else {
                circle cx=(x) cy=(y) r="4" fill=(BLUE) {}
            }
            @if nth % each == 0 {
                text x=(x) y=(TOP + PLOT_HEIGHT + 20.0) text-anchor="middle" font-size="11" fill=(GREY) { (point.label) }
            }
        }
        text x=(plot.left) y=(TOP + PLOT_HEIGHT + 46.0) fill=(GREY) { "grey line: level; broken lines: what chance alone keeps to; square: beyond it" }
    }
}

fn curve(steps: &[Step]) -> Markup {
    let plot = Plot { last: 100.0, left: 60.0 };
    let days = ticks(steps.iter().map(|step| step.day).fold(1.0, f64::max));
    let last = days.last().copied().unwrap_or(1.0);
    let x = |day: f64| plot.left + (WIDTH - 30.0 - plot.left) * day / last;
    let stairs = |of: &dyn Fn(&Step) -> Option<f64>| -> Vec<(f64, f64)> {
        let mut places = vec![(x(0.0), plot.y(100.0))];
        for (step, value) in steps.iter().filter_map(|step| Some((step, of(step)?))) {
            let before = places.last().map_or(plot.y(100.0), |(_, y)| *y);
            places.extend([(x(step.day), before), (x(step.day), plot.y(value))]);
        }
        places
    };
    html! {
        (plot.grid(&[0.0, 25.0, 50.0, 75.0, 100.0]))
        @for day in &days {
            text x=(x(*day)) y=(TOP + PLOT_HEIGHT + 20.0) text-anchor="middle" fill=(GREY) { (tick_text(*day)) }
        }
        (broken_line(&stairs(&|step| step.limits.map(|limits| limits.lower))))
        (broken_line(&stairs(&|step| step.limits.map(|limits| limits.upper))))
        polyline points=(line_through(&stairs(&|step| Some(step.value)))) fill="none" stroke=(BLUE) stroke-width="2.5" {}
        text x=(plot.left) y=(TOP + PLOT_HEIGHT + 46.0) fill=(GREY) { "days; broken lines: 95 % limits" }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_reach_the_end() {
        assert_eq!(ticks(23.0), [0.0, 5.0, 10.0, 15.0, 20.0, 25.0]);
        assert_eq!(ticks(100.0), [0.0, 20.0, 40.0, 60.0, 80.0, 100.0]);
        assert_eq!(ticks(1.0).last(), Some(&1.0));
        assert!(ticks(0.0).len() > 1);
    }

    #[test]
    fn what_was_typed_is_text_and_never_markup() {
        let row = Row {
            label: "<b>&".to_owned(),
            value: 3.0,
            limits: Some(Limits { lower: 1.0, upper: 5.0 }),
            numbers: "3 of 9".to_owned(),
        };
        let picture = Picture::of_rows("a </title>".to_owned(), "percent".to_owned(), vec![row]).unwrap();
        let svg = picture.svg();
        assert!(svg.contains("&lt;b&gt;&amp;") && svg.contains("a &lt;/title&gt;") && !svg.contains("<b>"));
        assert!(svg.contains("<desc>&lt;b&gt;&amp;: 3 of 9</desc>"), "{svg}");
    }

    #[test]
    fn a_point_beyond_its_limits_is_a_square() {
        let limits = Some(Limits { lower: 10.0, upper: 20.0 });
        let point = |value| Point { label: "2026-03-09".to_owned(), value, limits };
        let of = |value| Picture {
            title: String::new(),
            axis: String::new(),
            drawn: Drawn::Series { points: vec![point(15.0), point(value)], level: Some(15.0) },
        };
        assert!(of(25.0).svg().contains(VERMILION) && !of(16.0).svg().contains(VERMILION));
    }
}
