//! `[joint.later.NAME]`: the fit at a later time, when tenon and mortise have moved with moisture.

use super::{Part, Reader, band};
use crate::document::Entry;
use crate::read::{Section, entries};
use kerfwise_joint::wood::{Coefficient, Moisture, Movement};
use kerfwise_joint::{Moves, TenonFit};
use kerfwise_source::{Dimension, Length};
use kerfwise_stack::{Band, Expr};

/// The fit at one later time.
#[derive(Debug, Clone)]
pub(super) struct Later {
    name: String,
    moves: Moves,
    band: Band,
}

impl Later {
    /// The joint with these as further outcomes.
    pub(super) fn watch(all: &[Self], joint: TenonFit) -> TenonFit {
        all.iter().fold(joint, |joint, later| {
            joint.later(&later.name, later.moves.clone(), later.band)
        })
    }
}

impl Reader<'_, '_> {
    pub(super) fn later(&mut self) -> Option<Vec<Later>> {
        let all = entries(self.section.get("later"), self.sink);
        let read: Vec<Option<Later>> = all.iter().map(|entry| self.at_one_time(entry)).collect();
        read.into_iter().collect()
    }

    fn at_one_time(&mut self, entry: &Entry) -> Option<Later> {
        let section = Section::of(&format!("later.{}", entry.key), entry, self.sink)?;
        let mut part = Part {
            section,
            pool: self.pool,
            sink: self.sink,
        };
        let is_still = !part.any(&["tenon", "mortise"]);
        if is_still {
            let message = format!(
                "{} says neither how the tenon moves nor the mortise",
                part.section.name
            );
            let help = "add tenon = { size = .., coefficient = .., from = .., to = .. }";
            part.section
                .misses(&["tenon", "mortise"], message, Some(help));
        }
        let tenon = part.movement("tenon");
        let mortise = part.movement("mortise");
        let fits = part.section.need("band");
        let role = part.what("band");
        let fits = fits.and_then(|value| band(value, &role, part.sink));
        part.section.close(part.sink);
        if is_still {
            return None;
        }
        Some(Later {
            name: entry.key.clone(),
            moves: Moves {
                tenon: tenon?,
                mortise: mortise?,
            },
            band: fits?,
        })
    }
}

impl Part<'_, '_> {
    /// What one part gains; nothing where it is not said.
    fn movement(&mut self, key: &'static str) -> Option<Expr> {
        let Some(entry) = self.section.get(key) else {
            return Some(Expr::constant(Length::default()));
        };
        let section = Section::of(&self.what(key), entry, self.sink)?;
        let mut part = Part {
            section,
            pool: self.pool,
            sink: self.sink,
        };
        let per_percent = Dimension::NUMBER.per(Dimension::MOISTURE)?;
        let size = part.length("size");
        let coefficient = part.need_of("coefficient", per_percent);
        let from = part.need_of("from", Dimension::MOISTURE);
        let to = part.need_of("to", Dimension::MOISTURE);
        let (name, span) = (part.section.name.clone(), part.section.span.clone());
        part.section.close(part.sink);
        let movement = Movement {
            size: size?.into(),
            from: Moisture::from_source(&from?),
            to: Moisture::from_source(&to?),
        };
        match movement.linear(&Coefficient::from_source(&coefficient?)) {
            Ok(change) => Some(change),
            Err(error) => {
                self.sink.at(&span, format!("{name}: {error}"));
                None
            }
        }
    }
}
