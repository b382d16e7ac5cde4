//! The sources of a plan by name, and who uses them.

use crate::document::{Entry, Kind, Value};
use crate::event::Events;
use crate::fault::Sink;
use crate::files::Files;
use crate::law::LAWS;
use crate::near::suggestion;
use crate::read::{an, entries, text};
use crate::source::{self, Description, Taken};
use kerfwise_joint::Cuts;
use kerfwise_source::{Dimension, Event, Source};
use std::collections::BTreeMap;
use std::ops::Range;

/// A plan that needs more has lost its way; and correlations take a matrix of this size squared.
const MOST: usize = 500;

#[derive(Debug)]
pub(crate) struct Pool {
    by_name: BTreeMap<String, Described>,
    /// None was left out for being one too many.
    is_whole: bool,
}

#[derive(Debug)]
struct Described {
    key_span: Range<usize>,
    /// `None` when the description is faulty, which was told already.
    built: Option<Built>,
    /// Where it is first used.
    used_at: Option<Range<usize>>,
}

#[derive(Debug)]
struct Built {
    description: Description,
    single: Source,
    /// Present when it is drawn anew for each of the two cuts, and then the only way to use it.
    cuts: Option<Cuts>,
}

impl Pool {
    pub(crate) fn read(
        entry: Option<&Entry>,
        events: &Events,
        files: &mut Files<'_>,
        sink: &mut Sink,
    ) -> Self {
        let mut by_name = BTreeMap::new();
        let all = entries(entry, sink);
        let is_whole = all.len() <= MOST;
        for (index, entry) in all.iter().enumerate() {
            if index >= MOST {
                let message = format!("a plan may have {MOST} sources (got {})", all.len());
                sink.at(&entry.key_span, message);
                break;
            }
            let read = if holds_sources(entry, sink) {
                None
            } else {
                source::read(entry, events, files, sink)
            };
            let built = read.and_then(|(description, places)| {
                match description.build(&entry.key, Event::batch()) {
                    Ok(single) => Some(Built {
                        description,
                        single,
                        cuts: None,
                    }),
                    Err(error) => {
                        description.tell(&places, &entry.key, &error, sink);
                        None
                    }
                }
            });
            let described = Described {
                key_span: entry.key_span.clone(),
                built,
                used_at: None,
            };
            by_name.insert(entry.key.clone(), described);
        }
        Self { by_name, is_whole }
    }

    /// The source that a value names, in a role that wants this dimension.
    pub(crate) fn one(
        &mut self,
        value: &Value,
        role: &str,
        dimension: Dimension,
        sink: &mut Sink,
    ) -> Option<Source> {
        let name = text(value, role, sink)?;
        let built = self.named(name, value, role, dimension, sink)?;
        match &built.cuts {
            None => Some(built.single.clone()),
            Some(cuts) => {
                let (first, second) = (cuts.first.name(), cuts.second.name());
                let message = format!("{name:?} is drawn anew for each of the two cuts");
                sink.at(&value.span, message).help(format!(
                    "describe another source, or name {first:?} or {second:?} in an expression"
                ));
                None
            }
        }
    }

    /// The source that a value names, which is a width and so above 0.
    pub(crate) fn width(&mut self, value: &Value, role: &str, sink: &mut Sink) -> Option<Source> {
        let source = self.one(value, role, Dimension::LENGTH, sink)?;
        let (name, is_above_0) = (source.name(), source.estimate().raw() > 0.0);
        let described = self.by_name.get(name)?;
        let readings = described.built.as_ref()?.description.readings();
        let reading = readings.and_then(Taken::not_above_0);
        let message = match (reading, is_above_0) {
            (None, true) => return Some(source),
            (Some(words), _) => format!("source {name:?}: {words}, and {role} must be above 0"),
            (None, false) => {
                let got = source.estimate();
                format!("source {name:?}: {role} must be above 0 (got {got})")
            }
        };
        sink.at(&described.key_span, message)
            .also(&value.span, "it is used here")
            .help("a width has no minus sign");
        None
    }

    /// Says which sources that are used have no mean, as the error of two readings; tells whether there is one.
    pub(crate) fn tell_without_mean(&self, sink: &mut Sink) -> bool {
        let mut is_told = false;
        for (name, described) in &self.by_name {
            let Some(built) = described.built.as_ref() else {
                continue;
            };
            if described.used_at.is_none() || built.single.mean().is_some() {
                continue;
            }
            is_told = true;
            let nought = "so there is no travel that brings the fit to nought";
            let (message, help) = match built.description.readings() {
                Some(taken) => (
                    format!(
                        "source {name:?}: {taken} are too few: their mean may be off by any amount, {nought}"
                    ),
                    "take four readings or more, or state travel in [joint]",
                ),
                None => (
                    format!("source {name:?} has no mean, {nought}"),
                    "give it a law that has a mean, or state travel in [joint]",
                ),
            };
            sink.at(&described.key_span, message).help(help);
        }
        is_told
    }

    /// The source that a value names, drawn anew for each of the two cuts: `NAME.first`, `NAME.second`.
    pub(crate) fn cuts(
        &mut self,
        value: &Value,
        role: &str,
        dimension: Dimension,
        sink: &mut Sink,
    ) -> Option<Cuts> {
        let name = text(value, role, sink)?;
        let described = self.by_name.get(name);
        let first_use = described.and_then(|described| described.used_at.clone());
        self.named(name, value, role, dimension, sink)?;
        if let Some(place) = first_use {
            let message = format!("{role}: {name:?} is used already, and each role draws its own");
            sink.at(&value.span, message)
                .also(&place, "it is used here")
                .help("describe another source");
            return None;
        }
        for which in ["first", "second"] {
            let taken = format!("{name}.{which}");
            if let Some(other) = self.by_name.get(&taken) {
                let message = format!("{taken:?} is the name that {role} gives to a cut");
                sink.at(&other.key_span, message)
                    .help("give it another name");
                return None;
            }
        }
        let built = self.by_name.get_mut(name)?.built.as_mut()?;
        let make = |which: &str| {
            let name = format!("{name}.{which}");
            built.description.build(&name, Event::cut())
        };
        match (make("first"), make("second")) {
            (Ok(first), Ok(second)) => {
                let cuts = Cuts { first, second };
                built.cuts = Some(cuts.clone());
                Some(cuts)
            }
            (Err(error), _) | (_, Err(error)) => {
                sink.at(&value.span, error.to_string());
                None
            }
        }
    }

    fn named(
        &mut self,
        name: &str,
        value: &Value,
        role: &str,
        dimension: Dimension,
        sink: &mut Sink,
    ) -> Option<&Built> {
        if !self.by_name.contains_key(name) {
            self.unknown(name, role, &value.span, sink);
            return None;
        }
        let described = self.by_name.get_mut(name)?;
        described.used_at.get_or_insert(value.span.clone());
        let is = described.built.as_ref()?.single.dimension();
        let bare = described.built.as_ref()?.description.bare();
        if is == Dimension::NUMBER && is != dimension && !bare.is_empty() {
            // Only the unit was forgotten, which is told where the number stands, and once.
            bare.iter().for_each(|number| number.tell(dimension, sink));
            described.built = None;
            return None;
        }
        if is != dimension {
            let message = format!(
                "{role} must be {}, and source {name:?} is {}",
                an(dimension),
                an(is)
            );
            sink.at(&value.span, message)
                .also(&described.key_span, "it is described here");
            return None;
        }
        described.built.as_ref()
    }

    fn unknown(&self, name: &str, role: &str, place: &Range<usize>, sink: &mut Sink) {
        let help = if self.by_name.is_empty() {
            format!("describe it under [source.{name}]")
        } else {
            let names: Vec<&str> = self.by_name.keys().map(String::as_str).collect();
            suggestion(name, names, "the sources are")
        };
        sink.at(place, format!("{role}: there is no source {name:?}"))
            .help(help)
            .absence();
    }

    /// Whether every description could be built.
    pub(crate) fn is_sound(&self) -> bool {
        self.is_whole
            && self
                .by_name
                .values()
                .all(|described| described.built.is_some())
    }

    /// The sources that an expression may name.
    pub(crate) fn sources(&self) -> Vec<Source> {
        let built = self.by_name.values().filter_map(|d| d.built.as_ref());
        built
            .flat_map(|built| match &built.cuts {
                None => vec![built.single.clone()],
                Some(cuts) => vec![cuts.first.clone(), cuts.second.clone()],
            })
            .collect()
    }

    /// Where a source is described.
    pub(crate) fn place(&self, name: &str) -> Option<&Range<usize>> {
        self.by_name.get(name).map(|described| &described.key_span)
    }

    /// The sources whose readings do not differ, with their places.
    pub(crate) fn without_spread(&self) -> impl Iterator<Item = (&str, &Range<usize>)> {
        self.by_name
            .iter()
            .filter(|(_, described)| {
                let built = described.built.as_ref();
                built.is_some_and(|built| built.description.is_measured_without_spread())
            })
            .map(|(name, described)| (name.as_str(), &described.key_span))
    }

    /// The sources that no role uses, with their places.
    pub(crate) fn without_role(&self) -> impl Iterator<Item = (&str, &Range<usize>)> {
        self.by_name
            .iter()
            .filter(|(_, described)| described.used_at.is_none())
            .map(|(name, described)| (name.as_str(), &described.key_span))
    }
}

/// `[source.tenon.thickness]` is a table in a table: the name lacks its quotation marks.
fn holds_sources(entry: &Entry, sink: &mut Sink) -> bool {
    let Kind::Table(table) = &entry.value.kind else {
        return false;
    };
    let is_table = |inner: &&Entry| {
        matches!(inner.value.kind, Kind::Table(_)) && !LAWS.contains(&inner.key.as_str())
    };
    let Some(inner) = table.0.iter().find(is_table) else {
        return false;
    };
    let (outer, inner) = (&entry.key, &inner.key);
    sink.at(
        &entry.key_span,
        "the name of a source with a point in it needs quotation marks",
    )
    .help(format!("write [source.\"{outer}.{inner}\"]"));
    true
}
