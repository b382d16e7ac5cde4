use crate::budget::{both_cuts, of_a_cut};
use crate::number;
use crate::table::{Align, Grid, wrap};
use crate::{Style, Unit};
use kerfwise_source::{Provenance, Source};
use kerfwise_stack::{RootSumOfSquares, Stack};
use serde::{Deserialize, Serialize};

/// What a report is about.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Subject {
    /// Title of the plan.
    pub title: String,
    /// Name of the plan file, if there is one.
    pub plan: Option<String>,
    /// Hash of the plan and its readings, in hexadecimal, if there is one.
    pub plan_hash: Option<String>,
    /// A note of the plan.
    pub note: Option<String>,
    /// What the dial is set to, in inches, if there is a dial.
    pub travel_in: Option<f64>,
    /// What a tenon should measure, where the plan cuts one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tenon: Option<TenonGoal>,
    /// Version of the program.
    pub version: String,
}

/// What a tenon should measure, in inches, when all else is at its mean.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct TenonGoal {
    /// What it will measure at the dial setting.
    pub expected_in: f64,
    /// What a mortise of average width wants.
    pub wanted_in: f64,
    /// From here on it fits such a mortise.
    pub from_in: f64,
    /// Up to here.
    pub to_in: f64,
}

impl TenonGoal {
    pub(crate) fn sentence(&self, style: &Style) -> String {
        let length = |x| number::thickness(x, style.unit);
        format!(
            "Tenons then measure {} on average. A mortise of average width wants {}, and takes {} to {}.",
            length(self.expected_in),
            length(self.wanted_in),
            length(self.from_in),
            length(self.to_in),
        )
    }
}

impl Subject {
    /// With a title only.
    #[must_use]
    pub fn titled(title: &str) -> Self {
        Self {
            title: title.to_owned(),
            plan: None,
            plan_hash: None,
            note: None,
            travel_in: None,
            tenon: None,
            version: env!("CARGO_PKG_VERSION").to_owned(),
        }
    }

    pub(crate) fn heading(&self, style: &Style) -> String {
        let mut text = wrap(&self.title, "", style.width);
        if let Some(note) = &self.note {
            text.push_str(&wrap(note, "", style.width));
        }
        text
    }
}

/// Where a number came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum Origin {
    /// From readings.
    Measured,
    /// From a document.
    Stated,
    /// From nobody.
    Assumed,
}

/// A source as it stands in a report. Numbers are in `unit`, the raw unit of the source.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Input {
    /// Name.
    pub name: String,
    /// Estimate.
    pub estimate: f64,
    /// Standard uncertainty, if there is one.
    pub standard_uncertainty: Option<f64>,
    /// Unit of both: "in", "rad", "%MC", "" for a pure number.
    pub unit: String,
    /// Name of the distribution.
    pub distribution: String,
    /// The event that redraws it.
    pub event: String,
    /// Measured, stated or assumed.
    pub origin: Origin,
    /// Which readings, which document, or why.
    pub from: String,
}

impl Input {
    /// All sources of a stack: those first that weigh most in its first outcome (root sum of squares), the rest by name.
    #[must_use]
    pub fn all(stack: &Stack) -> Vec<Self> {
        let first = stack.outcomes().next();
        let rss = first.and_then(|y| y.root_sum_of_squares(RootSumOfSquares::new()).ok());
        let weight = |source: &Source| {
            let rows = rss.iter().flat_map(|rss| &rss.budget);
            // Both cuts of an error weigh as one.
            let error = |name: &str| of_a_cut(name).unwrap_or(name).to_owned();
            let own = rows.filter(|row| error(&row.name) == error(source.name()));
            own.map(|row| row.share).sum::<f64>()
        };
        let mut weighed: Vec<(f64, &Source)> = stack
            .sources()
            .into_iter()
            .map(|source| (weight(source), source))
            .collect();
        weighed.sort_by(|a, b| b.0.total_cmp(&a.0));
        weighed.into_iter().map(|(_, s)| Self::new(s)).collect()
    }

    fn new(source: &Source) -> Self {
        let (origin, from) = match source.provenance() {
            Provenance::Measured { readings } => (Origin::Measured, readings),
            Provenance::Stated { document } => (Origin::Stated, document),
            Provenance::Assumed { because } => (Origin::Assumed, because),
            _ => (Origin::Assumed, &String::new()),
        };
        Self {
            name: source.name().to_owned(),
            estimate: source.estimate().raw(),
            standard_uncertainty: source.standard_uncertainty().map(|u| u.raw()),
            unit: source.dimension().raw_unit(),
            distribution: source.error().name().to_owned(),
            event: source.event().name().to_owned(),
            origin,
            from: from.clone(),
        }
    }

    /// Whether it was taken for granted and matters.
    fn is_assumed(&self) -> bool {
        self.origin == Origin::Assumed && !self.is_exact()
    }

    fn is_exact(&self) -> bool {
        self.standard_uncertainty == Some(0.0)
    }

    /// The standard uncertainty as it is read.
    pub(crate) fn spread(&self, unit: Unit) -> String {
        match self.standard_uncertainty {
            Some(u) if self.unit == "in" => number::spread(u, unit),
            Some(u) => format!("{} {}", number::two_digits(u), self.unit)
                .trim_end()
                .to_owned(),
            None => "none".into(),
        }
    }
}

/// What both cuts are off by is one assumption: "seating (both cuts)" for "seating.first" and "seating.second", where they
/// are alike.
pub(crate) fn one_for_both_cuts(inputs: &[Input]) -> Vec<Input> {
    let mut kept: Vec<Input> = Vec::new();
    for input in inputs {
        let Some(base) = of_a_cut(&input.name) else {
            kept.push(input.clone());
            continue;
        };
        let both = Input {
            name: both_cuts(base),
            ..input.clone()
        };
        let is_other = |other: &&Input| {
            let name = other.name.strip_prefix(base);
            other.name != input.name && matches!(name, Some(".first" | ".second"))
        };
        let other = inputs.iter().find(is_other).cloned();
        let other = other.map(|other| Input {
            name: both.name.clone(),
            ..other
        });
        if other != Some(both.clone()) {
            kept.push(input.clone());
        } else if !kept.contains(&both) {
            kept.push(both);
        }
    }
    kept
}

/// What was assumed rather than measured; none when nothing was.
pub(crate) fn assumptions(inputs: &[Input], unit: Unit) -> Option<Grid> {
    let rows: Vec<Vec<String>> = one_for_both_cuts(inputs)
        .iter()
        .filter(|i| i.is_assumed())
        .map(|i| vec![i.name.clone(), i.spread(unit), i.from.clone()])
        .collect();
    let header = [
        ("source", Align::Left),
        ("uncertainty", Align::Right),
        ("because", Align::Left),
    ];
    (!rows.is_empty()).then(|| Grid::new(&header, rows))
}

/// The same as the end of a text, those that weigh most; empty when nothing was.
pub(crate) fn assumed(inputs: &[Input], style: &Style) -> String {
    assumed_at_most(inputs, style, MOST_ASSUMED)
}

/// All of them as the end of a text.
pub(crate) fn all_assumed(inputs: &[Input], style: &Style) -> String {
    assumed_at_most(inputs, style, usize::MAX)
}

/// More would hide the answer; the budget lists them all.
const MOST_ASSUMED: usize = 5;
/// The same in a sentence.
const MOST_NAMED: usize = 3;

fn assumed_at_most(inputs: &[Input], style: &Style, most: usize) -> String {
    let inputs = one_for_both_cuts(inputs);
    let is_assumed = |i: &&Input| i.is_assumed();
    let (mut shown, count) = (Vec::new(), inputs.iter().filter(is_assumed).count());
    // One more row costs no more than the line that would stand for it.
    let most = if count == most.saturating_add(1) {
        count
    } else {
        most
    };
    shown.extend(inputs.iter().filter(is_assumed).take(most).cloned());
    let Some(rows) = assumptions(&shown, style.unit) else {
        return String::new();
    };
    let heading = "\nAssumed, not measured (the first weigh most: measure those first):\n";
    let mut text = format!("{heading}{}", rows.to_text(style.width));
    if count > most {
        let rest = format!(
            "{} more that weigh less: `kerfwise budget` lists them all.",
            count - most
        );
        text.push_str(&wrap(&rest, "  ", style.width));
    }
    text
}

/// The same in a sentence of names; empty when nothing was.
pub(crate) fn assumed_in_a_sentence(inputs: &[Input], style: &Style) -> String {
    let inputs = one_for_both_cuts(inputs);
    let names: Vec<&str> = inputs
        .iter()
        .filter(|i| i.is_assumed())
        .map(|i| i.name.as_str())
        .collect();
    let listed = match names.as_slice() {
        [] => return String::new(),
        few if few.len() <= MOST_NAMED + 1 => few.join(", "),
        many => {
            let rest = many.len() - MOST_NAMED;
            format!("{} and {rest} more", many[..MOST_NAMED].join(", "))
        }
    };
    let words =
        format!("Assumed, not measured (the first weigh most: measure those first): {listed}.");
    format!("\n{}", wrap(&words, "", style.width))
}

/// Where every number came from.
#[cfg(feature = "html")]
pub(crate) fn provenance(inputs: &[Input], unit: Unit) -> Grid {
    let header = [
        ("source", Align::Left),
        ("estimate", Align::Right),
        ("u", Align::Right),
        ("distribution", Align::Left),
        ("event", Align::Left),
        ("origin", Align::Left),
        ("because", Align::Left),
    ];
    let rows = inputs.iter().map(|i| {
        vec![
            i.name.clone(),
            number::estimate(
                i.estimate,
                i.standard_uncertainty.unwrap_or(0.0),
                &i.unit,
                unit,
            ),
            if i.is_exact() {
                "exact".to_owned()
            } else {
                i.spread(unit)
            },
            if i.is_exact() {
                String::new()
            } else {
                i.distribution.clone()
            },
            i.event.clone(),
            match i.origin {
                Origin::Measured => "measured",
                Origin::Stated => "stated",
                Origin::Assumed => "assumed",
            }
            .to_owned(),
            i.from.clone(),
        ]
    });
    Grid::new(&header, rows)
}

/// The first of them and where the others stand, as the end of a text for the desk.
pub(crate) fn cautions_in_short(words: &[String], style: &Style) -> String {
    let first = words.iter().take(1).map(|caution| format!(" {caution}"));
    let text = format!(
        "Before you go to the saw:{} The other cautions stand below `kerfwise job` and on the card.",
        first.collect::<String>()
    );
    format!("\n{}", wrap(&text, "", style.width))
}

/// The cautions, as the end of a text.
pub(crate) fn cautions(words: &[String], style: &Style) -> String {
    let mut text = String::from("\nBefore you go to the saw:\n");
    for caution in words {
        text.push_str(&wrap(caution, "  - ", style.width));
    }
    text
}
