//! Readings as a line over time, with those that are not used marked where they lie. The table below holds the same.
//!
//! As in all pictures here, positions are percentages and letters keep their size.

use std::fmt::Write as _;

use chrono::{DateTime, NaiveTime, TimeDelta, Utc};
use chrono_tz::Tz;
use maud::{Markup, html};

use crate::domain::{Quality, Quantity, Reading, ReadingTime};

const HEIGHT_PX: f64 = 220.0;
/// Room above the highest and below the lowest value, share of the height.
const MARGIN: f64 = 0.08;
/// Dates named below the picture.
const DATES: i64 = 4;
/// Lines across the picture.
const LEVELS: u32 = 4;

/// One reading in the picture.
struct Point {
    at: DateTime<Utc>,
    low: f64,
    mean: f64,
    high: f64,
    quality: Quality,
}

fn point(reading: &Reading) -> Point {
    let (low, high) = reading.time.extremes();
    let (at, mean) = match reading.time {
        // A day stands at its noon; which clock's does not show at this scale.
        ReadingTime::Day { date, mean, .. } => (date.and_time(NaiveTime::MIN).and_utc() + TimeDelta::hours(12), mean),
        ReadingTime::Instant { at, value } => (at, value),
    };
    Point { at, low, mean, high, quality: reading.quality }
}

/// Where times and values lie, percent from the left and from the top.
struct Frame {
    first: DateTime<Utc>,
    seconds: f64,
    low: f64,
    high: f64,
}

impl Frame {
    fn of(points: &[Point]) -> Option<Self> {
        let (first, last) = (points.first()?.at, points.last()?.at);
        let low = points.iter().map(|point| point.low).fold(f64::INFINITY, f64::min);
        let high = points.iter().map(|point| point.high).fold(f64::NEG_INFINITY, f64::max);
        // A level line has some height too.
        let room = ((high - low) * MARGIN).max(0.05);
        let seconds = ((last - first).num_seconds() as f64).max(1.0);
        Some(Self { first, seconds, low: low - room, high: high + room })
    }

    fn x(&self, at: DateTime<Utc>) -> f64 {
        (at - self.first).num_seconds() as f64 / self.seconds * 100.0
    }

    fn y(&self, value: f64) -> f64 {
        (self.high - value) / (self.high - self.low) * 100.0
    }
}

/// The picture of `readings`, which are in order of time; nothing with fewer than two.
pub(super) fn chart(readings: &[Reading], quantity: Quantity, zone: Tz, title: &str) -> Markup {
    let points: Vec<Point> = readings.iter().map(point).collect();
    let Some(frame) = Frame::of(&points).filter(|_| points.len() > 1) else { return html! {} };
    let decimals = if frame.high - frame.low < 1.0 { 2 } else { 1 };
    let levels = (1..=LEVELS).map(|n| frame.low + (frame.high - frame.low) * f64::from(n) / f64::from(LEVELS + 1));
    let daily = matches!(readings.first().map(|reading| reading.time), Some(ReadingTime::Day { .. }));
    let form = if daily { "%-d %b %Y" } else { "%-d %b %H:%M" };
    let date = |n: i64| {
        let at = frame.first + TimeDelta::seconds((frame.seconds * n as f64 / DATES as f64) as i64);
        let local = if daily { at.naive_utc() } else { at.with_timezone(&zone).naive_local() };
        (n * 100 / DATES, local.format(form).to_string())
    };
    let flagged = |quality| points.iter().filter(|point| point.quality == quality).count();
    html! {
        figure aria-labelledby="readings-title" {
            figcaption id="readings-title" { (title) }
            p.key {
                @if daily { "Line: daily mean. Band: from the least to the greatest of the day. " }
                "Ring: suspect (" (flagged(Quality::Suspect)) "). Cross: bad (" (flagged(Quality::Bad)) "). "
                "Neither is used. In " (quantity.unit_in_words()) "."
            }
            svg width="100%" height=(HEIGHT_PX) role="img" aria-label=(title) {
                svg width="100%" height="100%" viewBox="0 0 1000 1000" preserveAspectRatio="none" {
                    path.series-band d=(band(&points, &frame)) {}
                    path.series-line d=(line(&points, &frame)) vector-effect="non-scaling-stroke" {}
                }
                @for level in levels {
                    line.grid x1="0" x2="100%" y1=(percent(frame.y(level))) y2=(percent(frame.y(level))) {}
                    text x="2" y=(percent(frame.y(level))) dy="-3" font-size="12" { (format!("{level:.decimals$}")) }
                }
                @for point in &points { (flag(point, &frame)) }
            }
            svg.dates width="100%" height="18" aria-hidden="true" {
                @for (x, words) in [0, DATES / 2, DATES].map(date) {
                    @let anchor = match x { 0 => "start", 100 => "end", _ => "middle" };
                    text x=(format!("{x}%")) y="13" font-size="12" text-anchor=(anchor) { (words) }
                }
            }
        }
    }
}

fn percent(of: f64) -> String {
    format!("{of:.2}%")
}

/// A mark that differs in shape, not in colour alone.
fn flag(point: &Point, frame: &Frame) -> Markup {
    let (x, y) = (percent(frame.x(point.at)), percent(frame.y(point.mean)));
    html! {
        @match point.quality {
            Quality::Good => {},
            Quality::Suspect => circle.mark-suspect cx=(x) cy=(y) r="5" {},
            Quality::Bad => svg x=(x) y=(y) overflow="visible" {
                path.mark-bad d="M-5 -5L5 5M-5 5L5 -5" {}
            },
        }
    }
}

/// Where the line breaks: more than twice the usual step lies between two readings.
fn gap(points: &[Point]) -> TimeDelta {
    let mut steps: Vec<TimeDelta> = points.windows(2).map(|pair| pair[1].at - pair[0].at).collect();
    steps.sort_unstable();
    steps.get(steps.len() / 2).map_or(TimeDelta::MAX, |usual| *usual * 2)
}

fn runs(points: &[Point]) -> impl Iterator<Item = &[Point]> {
    let gap = gap(points);
    points.chunk_by(move |a, b| b.at - a.at <= gap)
}

fn line(points: &[Point], frame: &Frame) -> String {
    let mut path = String::new();
    for run in runs(points) {
        for (index, point) in run.iter().enumerate() {
            step(&mut path, if index == 0 { 'M' } else { 'L' }, frame, point.at, point.mean);
        }
    }
    path
}

fn band(points: &[Point], frame: &Frame) -> String {
    let mut path = String::new();
    for run in runs(points).filter(|run| run.iter().any(|point| point.high > point.low)) {
        for (index, point) in run.iter().enumerate() {
            step(&mut path, if index == 0 { 'M' } else { 'L' }, frame, point.at, point.high);
        }
        for point in run.iter().rev() {
            step(&mut path, 'L', frame, point.at, point.low);
        }
        path.push('Z');
    }
    path
}

fn step(path: &mut String, letter: char, frame: &Frame, at: DateTime<Utc>, value: f64) {
    // Writing to a String cannot fail.
    let _ = write!(path, "{letter}{:.1} {:.1}", frame.x(at) * 10.0, frame.y(value) * 10.0);
}
