//! The laws of errors, as a plan writes them.

use crate::document::{Entry, Kind, Value};
use crate::fault::Sink;
use crate::read::{Bare, Section, list, number, other_dimension, pair, quantity};
use kerfwise_numeric::float;
use kerfwise_source::{Dimension, Distribution, Error, Quantity, TypeB};

/// The keys that say how an error is distributed.
pub(crate) const LAWS: [&str; 19] = [
    "normal",
    "rectangular",
    "triangular",
    "trapezoidal",
    "curvilinear_trapezoid",
    "arcsine",
    "student_t",
    "exponential",
    "lognormal",
    "beta",
    "truncated_normal",
    "two_piece_normal",
    "discrete",
    "mixture",
    "point",
    "certificate",
    "resolution",
    "wood",
    "readings",
];

/// The numbers of one source, which must all be of one dimension.
#[derive(Debug, Default)]
pub(crate) struct OneDimension<'a> {
    seen: Vec<(String, Quantity, &'a Value)>,
}

impl<'a> OneDimension<'a> {
    /// A number with its unit, in the raw unit.
    pub(crate) fn quantity(
        &mut self,
        value: &'a Value,
        what: &str,
        sink: &mut Sink,
    ) -> Option<f64> {
        let quantity = quantity(value, what, sink)?;
        self.seen.push((what.to_owned(), quantity, value));
        Some(quantity.raw())
    }

    /// The same, and not below 0: how wide something is.
    fn spread(&mut self, value: &'a Value, what: &str, sink: &mut Sink) -> Option<f64> {
        let raw = self.quantity(value, what, sink)?;
        if raw < 0.0 {
            let got = sink.shown(&value.span);
            sink.at(
                &value.span,
                format!("{what} must be 0 or above (got {got})"),
            )
            .help("a spread has no sign");
            return None;
        }
        Some(raw.abs())
    }

    /// The numbers without a unit.
    pub(crate) fn bare(&self, sink: &Sink) -> Vec<Bare> {
        let seen = self.seen.iter();
        seen.filter(|(_, quantity, _)| quantity.dimension() == Dimension::NUMBER)
            .map(|(what, _, value)| Bare::of(value, what, sink))
            .collect()
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.seen.is_empty()
    }

    /// The dimension of all, which may be known from elsewhere; faults where they differ.
    ///
    /// A pure number among others lacks its unit, and a source seldom is one: so the first number
    /// that has a unit says what the others must be.
    pub(crate) fn check(&self, known: Option<Dimension>, sink: &mut Sink) -> Option<Dimension> {
        let mut dimensions = self.seen.iter().map(|(_, q, _)| q.dimension());
        let wanted = known
            .or_else(|| dimensions.find(|dimension| *dimension != Dimension::NUMBER))
            .unwrap_or(Dimension::NUMBER);
        let others = self.seen.iter().filter(|(_, q, _)| q.dimension() != wanted);
        let mut all_alike = true;
        for (what, quantity, value) in others {
            other_dimension(*quantity, wanted, value, what, sink);
            all_alike = false;
        }
        all_alike.then_some(wanted)
    }
}

/// The law under one of the keys [`LAWS`], except for wood and readings; in the raw unit.
pub(crate) fn read<'a>(
    entry: &'a Entry,
    name: &str,
    numbers: &mut OneDimension<'a>,
    sink: &mut Sink,
) -> Option<Distribution> {
    let mut law = Law {
        key: &entry.key,
        what: format!("{name}: {}", entry.key),
        value: &entry.value,
        numbers,
        sink,
    };
    let distribution = match entry.key.as_str() {
        "normal" => law.normal(),
        "rectangular" => law.ends(Distribution::rectangular),
        "arcsine" => law.ends(Distribution::arcsine),
        "triangular" => law.triangular(),
        "point" => law.point(),
        "resolution" => law.resolution(),
        "discrete" => law.discrete(),
        "mixture" => law.mixture(),
        _ => law.table(),
    }?;
    match distribution {
        Ok(distribution) => Some(distribution),
        Err(error) => {
            sink.at(&entry.value.span, format!("{name}: {error}"));
            None
        }
    }
}

/// What the constructors of laws return; `None` when a number was faulty already.
type Made = Option<Result<Distribution, Error>>;

struct Law<'a, 'b> {
    key: &'a str,
    /// As messages call it.
    what: String,
    value: &'a Value,
    numbers: &'b mut OneDimension<'a>,
    sink: &'b mut Sink,
}

impl<'a> Law<'a, '_> {
    fn normal(&mut self) -> Made {
        let sd = self.numbers.spread(self.value, &self.what, self.sink)?;
        Some(Distribution::normal(0.0, sd))
    }

    fn point(&mut self) -> Made {
        let at = self.numbers.quantity(self.value, &self.what, self.sink)?;
        Some(Distribution::point(at))
    }

    fn resolution(&mut self) -> Made {
        let step = self.numbers.spread(self.value, &self.what, self.sink)?;
        Some(TypeB::resolution(step))
    }

    /// A half-width about zero, or two ends.
    fn ends(&mut self, make: fn(f64, f64) -> Result<Distribution, Error>) -> Made {
        if let Kind::List(_) = self.value.kind {
            let (lower, upper) = pair(self.value, &self.what, self.sink)?;
            let lower = self.numbers.quantity(lower, &self.what, self.sink);
            let upper = self.numbers.quantity(upper, &self.what, self.sink);
            return Some(make(lower?, upper?));
        }
        let half = self.numbers.spread(self.value, &self.what, self.sink)?;
        Some(make(-half, half))
    }

    fn triangular(&mut self) -> Made {
        let Kind::List(list) = &self.value.kind else {
            let half = self.numbers.spread(self.value, &self.what, self.sink)?;
            return Some(Distribution::triangular(-half, 0.0, half));
        };
        let [lower, peak, upper] = list.as_slice() else {
            let count = list.len();
            self.sink.at(
                &self.value.span,
                format!(
                    "{} must be a half-width, or a list of lower end, peak, upper end (got {count})",
                    self.what
                ),
            );
            return None;
        };
        let mut read = |value| self.numbers.quantity(value, &self.what, self.sink);
        let (lower, peak, upper) = (read(lower), read(peak), read(upper));
        Some(Distribution::triangular(lower?, peak?, upper?))
    }

    /// Pairs of a value and its probability.
    fn discrete(&mut self) -> Made {
        let mut pairs = Vec::new();
        let mut is_good = true;
        for row in list(self.value, &self.what, self.sink)? {
            let Some((value, probability)) = pair(row, &self.what, self.sink) else {
                is_good = false;
                continue;
            };
            let value = self.numbers.quantity(value, &self.what, self.sink);
            match (value, number(probability, &self.what, self.sink)) {
                (Some(value), Some(probability)) => pairs.push((value, probability)),
                _ => is_good = false,
            }
        }
        is_good.then(|| Distribution::discrete(&pairs))
    }

    /// Tables, each with its weight and one law.
    fn mixture(&mut self) -> Made {
        let mut parts = Vec::new();
        let mut is_good = true;
        for value in list(self.value, &self.what, self.sink)? {
            match self.part(value) {
                Some(part) => parts.push(part),
                None => is_good = false,
            }
        }
        is_good.then(|| Distribution::mixture(parts))
    }

    fn part(&mut self, value: &'a Value) -> Option<(f64, Distribution)> {
        let Kind::Table(table) = &value.kind else {
            let kind = value.kind_name();
            let message = format!(
                "{}: each part must be a table with its weight and a law, not {kind}",
                self.what
            );
            self.sink.at(&value.span, message);
            return None;
        };
        let name = format!("a part of {}", self.what);
        let mut section = Section::new(name, &value.span, table);
        let weight = section.need("weight");
        let weight = weight.and_then(|w| number(w, &format!("{}: weight", self.what), self.sink));
        let laws = &LAWS[..LAWS.len() - 2];
        let entry = section.at_most_one_of(laws, self.sink);
        if entry.is_none() {
            let message = format!("{} needs a law", section.name);
            section.misses(laws, message, Some("such as normal = \"0.5 thou\""));
        }
        // As deep as the document nests, which the parser bounds.
        let law = entry.and_then(|entry| read(entry, &self.what, self.numbers, self.sink));
        section.close(self.sink);
        Some((weight?, law?))
    }

    /// The laws whose parameters have names.
    fn table(&mut self) -> Made {
        let Kind::Table(table) = &self.value.kind else {
            let kind = self.value.kind_name();
            let message = format!("{} must be a table, not {kind}", self.what);
            let help = example(self.key);
            self.sink.at(&self.value.span, message).help(help);
            return None;
        };
        let mut p = Parameters {
            section: Section::new(&self.what, &self.value.span, table),
            numbers: self.numbers,
            sink: self.sink,
        };
        let made = match self.key {
            "trapezoidal" => trapezoidal(&mut p),
            "curvilinear_trapezoid" => curvilinear_trapezoid(&mut p),
            "student_t" => student_t(&mut p),
            "exponential" => exponential(&mut p),
            "lognormal" => lognormal(&mut p),
            "beta" => beta(&mut p),
            "truncated_normal" => truncated_normal(&mut p),
            "two_piece_normal" => two_piece_normal(&mut p),
            _ => certificate(&mut p),
        };
        p.section.close(p.sink);
        made
    }
}

/// How such a law is written.
fn example(key: &str) -> String {
    let parameters = match key {
        "trapezoidal" => "half_width = \"2 thou\", top_ratio = 0.5",
        "curvilinear_trapezoid" => "half_width = \"2 thou\", ends = \"0.5 thou\"",
        "student_t" => "scale = \"0.3 thou\", degrees_of_freedom = 7",
        "exponential" => "mean_excess = \"1 thou\"",
        "lognormal" => "median = \"1 thou\", log_sd = 0.5",
        "beta" => "lower = \"0 in\", upper = \"2 thou\", a = 2, b = 3",
        "truncated_normal" => "sd = \"1 thou\", lower = \"0 in\"",
        "two_piece_normal" => "below = \"0.5 thou\", above = \"1 thou\"",
        _ => "expanded = \"0.6 thou\", coverage_factor = 2",
    };
    format!("write {key} = {{ {parameters} }}")
}

struct Parameters<'a, 'b> {
    section: Section<'a>,
    numbers: &'b mut OneDimension<'a>,
    sink: &'b mut Sink,
}

impl Parameters<'_, '_> {
    fn what(&self, key: &str) -> String {
        format!("{}.{key}", self.section.name)
    }

    fn quantity(&mut self, key: &'static str) -> Option<f64> {
        let value = self.section.need(key)?;
        self.numbers.quantity(value, &self.what(key), self.sink)
    }

    fn spread(&mut self, key: &'static str) -> Option<f64> {
        let value = self.section.need(key)?;
        self.numbers.spread(value, &self.what(key), self.sink)
    }

    fn number(&mut self, key: &'static str) -> Option<f64> {
        let value = self.section.need(key)?;
        number(value, &self.what(key), self.sink)
    }

    /// A quantity that may be left out.
    fn quantity_or(&mut self, key: &'static str, default: f64) -> Option<f64> {
        match self.section.value(key) {
            Some(value) => self.numbers.quantity(value, &self.what(key), self.sink),
            None => Some(default),
        }
    }
}

// In each of these all parameters are read before the first `?`, so that all their faults are told.

fn trapezoidal(p: &mut Parameters<'_, '_>) -> Made {
    let (half, top) = (p.spread("half_width"), p.number("top_ratio"));
    let half = half?;
    Some(Distribution::trapezoidal(-half, half, top?))
}

fn curvilinear_trapezoid(p: &mut Parameters<'_, '_>) -> Made {
    let (half, ends) = (p.spread("half_width"), p.spread("ends"));
    let half = half?;
    Some(Distribution::curvilinear_trapezoid(-half, half, ends?))
}

fn student_t(p: &mut Parameters<'_, '_>) -> Made {
    let (scale, dof) = (p.spread("scale"), p.number("degrees_of_freedom"));
    Some(Distribution::student_t(0.0, scale?, dof?))
}

fn exponential(p: &mut Parameters<'_, '_>) -> Made {
    let (mean, origin) = (p.quantity("mean_excess"), p.quantity_or("origin", 0.0));
    Some(Distribution::exponential(origin?, mean?))
}

/// The median lies above the origin, or below it for a tail to the left.
fn lognormal(p: &mut Parameters<'_, '_>) -> Made {
    let (median, origin) = (p.quantity("median"), p.quantity_or("origin", 0.0));
    let log_sd = p.number("log_sd");
    let (excess, origin, log_sd) = (median? - origin?, origin?, log_sd?);
    if excess.abs() <= 0.0 {
        let message = format!("{} must not be the origin", p.what("median"));
        p.sink.at(&p.section.span, message);
        return None;
    }
    let above = Distribution::lognormal(0.0, float::ln(excess.abs()), log_sd);
    let side = if excess > 0.0 { 1.0 } else { -1.0 };
    Some(above.and_then(|law| law.affine(side, origin)))
}

fn beta(p: &mut Parameters<'_, '_>) -> Made {
    let (lower, upper) = (p.quantity("lower"), p.quantity("upper"));
    let (a, b) = (p.number("a"), p.number("b"));
    Some(Distribution::beta(lower?, upper?, a?, b?))
}

fn truncated_normal(p: &mut Parameters<'_, '_>) -> Made {
    let (sd, mean) = (p.spread("sd"), p.quantity_or("mean", 0.0));
    let lower = p.quantity_or("lower", f64::NEG_INFINITY);
    let upper = p.quantity_or("upper", f64::INFINITY);
    Some(Distribution::truncated_normal(mean?, sd?, lower?, upper?))
}

fn two_piece_normal(p: &mut Parameters<'_, '_>) -> Made {
    let (below, above) = (p.spread("below"), p.spread("above"));
    Some(Distribution::two_piece_normal(0.0, below?, above?))
}

/// With a coverage factor, or a level of confidence and maybe degrees of freedom.
fn certificate(p: &mut Parameters<'_, '_>) -> Made {
    let expanded = p.spread("expanded");
    let keys = ["coverage_factor", "level"];
    let help = "a certificate states one of them beside the expanded uncertainty";
    let told = p.section.one_of(&keys, help, p.sink);
    let factor = told.and_then(|entry| {
        let what = p.what(&entry.key);
        let number = number(&entry.value, &what, p.sink)?;
        Some((entry.key == "level", number))
    });
    let dof = match p.section.value("degrees_of_freedom") {
        Some(value) => {
            let what = p.what("degrees_of_freedom");
            Some(number(value, &what, p.sink)?)
        }
        None => None,
    };
    Some(match factor? {
        (true, level) => TypeB::certificate_at(expanded?, level, dof),
        (false, k) => TypeB::certificate(expanded?, k),
    })
}
