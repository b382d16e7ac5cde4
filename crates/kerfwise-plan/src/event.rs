//! `[event.NAME]`: what redraws a source.

use crate::document::{Entry, Value};
use crate::fault::Sink;
use crate::near::suggestion;
use crate::read::{Section, entries, text};
use kerfwise_source::Event;
use std::collections::BTreeMap;

/// The events that a plan may name, by name.
pub(crate) struct Events(BTreeMap<String, Event>);

/// A plan that names more has lost its way.
const MOST: usize = 100;

impl Events {
    pub(crate) fn read(entry: Option<&Entry>, sink: &mut Sink) -> Self {
        let mut events = Self(builtin());
        let mut waiting = Vec::new();
        let own = entries(entry, sink);
        for (index, entry) in own.iter().enumerate() {
            if index >= MOST {
                let message = format!("a plan may name {MOST} events (got {})", own.len());
                sink.at(&entry.key_span, message);
                break;
            }
            if events.0.contains_key(&entry.key) {
                let message = format!("the event {:?} is there already", entry.key);
                sink.at(&entry.key_span, message)
                    .help("give it another name");
                continue;
            }
            match outer(entry, sink) {
                Some(outer) => waiting.push((entry, outer)),
                None => events.insert(entry, None),
            }
        }
        events.resolve(waiting, sink);
        events
    }

    /// The event of this name.
    pub(crate) fn get(&self, value: &Value, sink: &mut Sink) -> Option<Event> {
        let name = text(value, "event", sink)?;
        match self.0.get(name) {
            Some(event) => Some(event.clone()),
            None => {
                let help = suggestion(name, self.names(), "the events are");
                sink.at(&value.span, format!("there is no event {name:?}"))
                    .help(help)
                    .absence();
                None
            }
        }
    }

    fn names(&self) -> Vec<&str> {
        self.0.keys().map(String::as_str).collect()
    }

    fn insert(&mut self, entry: &Entry, outer: Option<&Event>) {
        let event = match outer {
            Some(outer) => Event::nested(&entry.key, outer),
            None => Event::new(&entry.key),
        };
        self.0.insert(entry.key.clone(), event);
    }

    /// Each round nests those whose outer event is known; what is left hangs in a ring or nowhere.
    fn resolve(&mut self, mut waiting: Vec<(&Entry, &Value)>, sink: &mut Sink) {
        loop {
            let before = waiting.len();
            waiting.retain(|(entry, outer)| {
                let outer = match &outer.kind {
                    crate::document::Kind::Text(name) => self.0.get(name).cloned(),
                    _ => None,
                };
                if outer.is_some() {
                    self.insert(entry, outer.as_ref());
                }
                outer.is_none()
            });
            if waiting.len() == before {
                break;
            }
        }
        let own: Vec<&str> = waiting
            .iter()
            .map(|(entry, _)| entry.key.as_str())
            .collect();
        for (entry, outer) in &waiting {
            let is_ring = matches!(&outer.kind, crate::document::Kind::Text(name) if own.contains(&name.as_str()));
            if is_ring {
                let message = format!("the event {:?} is nested in itself", entry.key);
                sink.at(&outer.span, message)
                    .help("follow \"in\" from event to event, and break the ring");
            } else {
                let _ = self.get(outer, sink);
            }
        }
        // Sources may name them all the same; their own faults are told.
        for (entry, _) in waiting {
            self.insert(entry, None);
        }
    }
}

/// The event that this one is nested in.
fn outer<'a>(entry: &'a Entry, sink: &mut Sink) -> Option<&'a Value> {
    let mut section = Section::of(&format!("event {:?}", entry.key), entry, sink)?;
    let outer = section.value("in");
    section.close(sink);
    outer.filter(|value| text(value, "in", sink).is_some())
}

fn builtin() -> BTreeMap<String, Event> {
    let all = [
        Event::batch(),
        Event::gauge(),
        Event::blade(),
        Event::mortise_set_up(),
        Event::tenon_set_up(),
        Event::jig_move(),
        Event::piece(),
        Event::end(),
        Event::cut(),
    ];
    all.into_iter()
        .map(|event| (event.name().to_owned(), event))
        .collect()
}
