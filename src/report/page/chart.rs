//! The drift as a picture. Its colours are names for the style sheet, which knows light,
//! dark and paper.

mod axis;

use plotters::coord::Shift;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use crate::rehearsal::{DriftLine, DriftPoint};
use crate::report::Digest;
use crate::report::wording::time_of_day;
use crate::units::{Cents, Seconds};
use axis::Axis;

/// Width and height of the drawing, whose coordinates are whole numbers: it is shown at a third
/// to a half of this.
const SIZE: (u32, u32) = (1_040, 660);
/// Where the names of the lines stand, right of the plot.
const RIGHT: u32 = 330;
/// Height of a name.
const LINE_HEIGHT: i32 = 46;
/// Longest name in full, in characters.
const LONGEST: usize = 13;

/// Dots of the line where a break is left out.
const DOTS: u32 = 40;

/// The most shapes on a line.
const MOST_SHAPES: usize = 13;

const ENSEMBLE: RGBColor = RGBColor(29, 95, 168);
const SERIES: RGBColor = RGBColor(154, 91, 0);
const PLAYER: RGBColor = RGBColor(136, 136, 136);
const EXPECTED: RGBColor = RGBColor(119, 119, 120);
const INK: RGBColor = RGBColor(34, 34, 34);
const RULE: RGBColor = RGBColor(204, 204, 204);

type Points = Vec<(f64, f64)>;
type Failed = DrawingAreaErrorKind<std::io::Error>;

/// A line of the picture.
struct Line {
    name: String,
    colour: RGBColor,
    width: u32,
    points: Points,
}

/// The picture as an SVG element; none where there is no line to draw. `index` makes the
/// elements it refers to different from those of other pictures on the page; `title` and
/// `description` are for those who do not see it.
pub(super) fn drift(
    digest: &Digest<'_>,
    index: usize,
    title: &str,
    description: &str,
) -> Option<String> {
    let lines = lines(digest);
    if lines.is_empty() {
        return None;
    }
    let mut svg = String::new();
    draw(&mut svg, digest, &lines).ok()?;
    // The picture is as large as the page lets it be.
    let (_, drawing) = svg.split_once('>')?;
    let (width, height) = SIZE;
    let head = maud::html! {
        title id={ "drift-title-" (index) } { (title) }
        desc id={ "drift-text-" (index) } { (description) }
    };
    Some(format!(
        "<svg viewBox=\"0 0 {width} {height}\" role=\"img\" class=\"drift\" \
         aria-labelledby=\"drift-title-{index} drift-text-{index}\">{}{drawing}",
        head.into_string()
    ))
}

/// From what lies below the others to what lies above them.
fn lines(digest: &Digest<'_>) -> Vec<Line> {
    let drift = &digest.drift;
    let line = |name: String, colour, width, line: &DriftLine| Line {
        name,
        colour,
        width,
        points: line.points.iter().map(point).collect(),
    };
    let mut lines: Vec<Line> = drift
        .players
        .iter()
        .map(|(player, own)| line(digest.player(*player), PLAYER, 2, own))
        .collect();
    lines.push(Line {
        name: "winds by \u{b0}C".to_owned(),
        colour: EXPECTED,
        width: 4,
        points: drift
            .expected
            .iter()
            .map(|(at, c)| place(*at, *c))
            .collect(),
    });
    lines.push(line("\u{25c7} series".to_owned(), SERIES, 5, &drift.series));
    lines.push(line(
        "\u{25a1} ensemble".to_owned(),
        ENSEMBLE,
        6,
        &drift.ensemble,
    ));
    lines.retain(|line| !line.points.is_empty());
    lines
}

fn point(point: &DriftPoint) -> (f64, f64) {
    place(point.at, point.cents)
}

fn place(at: Seconds, cents: Cents) -> (f64, f64) {
    (at.get() / 60.0, cents.get())
}

fn draw(svg: &mut String, digest: &Digest<'_>, lines: &[Line]) -> Result<(), Failed> {
    let root = SVGBackend::with_string(svg, SIZE).into_drawing_area();
    let all = || lines.iter().flat_map(|line| &line.points);
    let latest = all().map(|(minute, _)| *minute).fold(1.0, f64::max);
    let latest = latest.max(digest.chronicle().ended().get() / 60.0);
    let axis = Axis::new(&digest.sittings(), latest);
    let last = axis.length();
    let low = all().map(|(_, cents)| *cents).fold(-5.0, f64::min) - 2.0;
    let high = all().map(|(_, cents)| *cents).fold(5.0, f64::max) + 2.0;
    let mut chart = ChartBuilder::on(&root)
        .margin_top(24)
        .margin_right(RIGHT)
        .x_label_area_size(90)
        .y_label_area_size(90)
        .build_cartesian_2d(0.0..last, low..high)?;
    let text = ("sans-serif", 40).into_font().color(&INK);
    chart
        .configure_mesh()
        .disable_x_mesh()
        .light_line_style(TRANSPARENT)
        .bold_line_style(RULE)
        .axis_style(RULE)
        .y_labels(7)
        .x_labels(5)
        .y_label_formatter(&|cents| Cents::new(*cents).to_string())
        .x_label_formatter(&|place| {
            let minute = axis.minute(*place);
            if axis.is_broken() {
                time_of_day(digest.occasion.begun, Seconds::new(60.0 * minute))
            } else {
                format!("{minute:.0} min")
            }
        })
        .label_style(text)
        .draw()?;
    let zero = [(0.0, 0.0), (last, 0.0)];
    chart.draw_series([PathElement::new(zero, INK.stroke_width(1))])?;
    for sitting in digest.chronicle().sittings().iter().skip(1) {
        let minute = sitting.begun.get() / 60.0;
        if axis.begins_after_break(minute) {
            continue;
        }
        let place = axis.place(minute);
        let pause = [(place, low), (place, high)];
        chart.draw_series([PathElement::new(pause, RULE.stroke_width(2))])?;
    }
    for place in axis.breaks() {
        let style = INK.stroke_width(2);
        let each = (high - low) / f64::from(DOTS);
        let dot = |n: u32| {
            let from = low + each * f64::from(n);
            PathElement::new([(place, from), (place, from + 0.3 * each)], style)
        };
        chart.draw_series((0..DOTS).map(dot))?;
    }
    for line in lines {
        let style = line.colour.stroke_width(line.width);
        // Nothing is known of what the pitch did while nobody played.
        for stretch in axis.stretches(&line.points) {
            if let [alone] = stretch[..] {
                let dot = Circle::new(alone, line.width, line.colour.filled());
                chart.draw_series([dot])?;
            }
            chart.draw_series([PathElement::new(stretch, style)])?;
        }
        let step = line.points.len().div_ceil(MOST_SHAPES).max(1);
        for point in line.points.iter().step_by(step).filter(|_| line.width > 4) {
            let point = (axis.place(point.0), point.1);
            chart.draw_series([EmptyElement::at(point) + shape(line)])?;
        }
    }
    let ends = lines.iter().filter_map(|line| {
        let (minute, cents) = line.points.last()?;
        let end = chart.backend_coord(&(axis.place(*minute), *cents));
        Some((end.1, end, line))
    });
    names(&root, ends.collect())?;
    root.present()
}

/// A square for the temperament, a lozenge for nature.
fn shape(line: &Line) -> Polygon<(i32, i32)> {
    let corners = if line.colour == SERIES {
        [(0, -11), (11, 0), (0, 11), (-11, 0)]
    } else {
        [(-8, -8), (8, -8), (8, 8), (-8, 8)]
    };
    Polygon::new(corners, line.colour.filled())
}

/// The names at the ends of their lines, moved apart where they would lie over one another.
fn names<B: DrawingBackend<ErrorType = std::io::Error>>(
    root: &DrawingArea<B, Shift>,
    mut ends: Vec<(i32, (i32, i32), &Line)>,
) -> Result<(), Failed> {
    ends.sort_by_key(|(y, ..)| *y);
    let mut lowest = i32::MIN;
    for end in &mut ends {
        end.0 = end.0.max(lowest);
        lowest = end.0 + LINE_HEIGHT;
    }
    // What was pushed out at the bottom goes back up.
    let mut highest = SIZE.1 as i32 - LINE_HEIGHT / 2;
    for end in ends.iter_mut().rev() {
        end.0 = end.0.min(highest);
        highest = end.0 - LINE_HEIGHT;
    }
    for (y, end, line) in ends.into_iter().filter(|(y, ..)| *y > 0) {
        let x = (SIZE.0 - RIGHT) as i32 + 50;
        let thread = [(end.0 + 8, end.1), (x - 8, y)];
        root.draw(&PathElement::new(thread, RULE.stroke_width(2)))?;
        let style = ("sans-serif", 43).into_font().color(&line.colour);
        let style = style.pos(Pos::new(HPos::Left, VPos::Center));
        root.draw(&Text::new(shortened(&line.name), (x, y), style))?;
    }
    Ok(())
}

fn shortened(name: &str) -> String {
    if name.chars().count() <= LONGEST {
        return name.to_owned();
    }
    let kept: String = name.chars().take(LONGEST - 1).collect();
    format!("{}\u{2026}", kept.trim_end())
}
