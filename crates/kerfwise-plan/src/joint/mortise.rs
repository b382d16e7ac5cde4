//! A mortise: measured, or by the way it is made.

use super::{Part, Reader};
use crate::document::Entry;
use crate::read::number;
use kerfwise_joint::{Cuts, Error, HollowChisel, Mortise, Wedges};
use kerfwise_source::{Dimension, Source};

/// The key that says which way; each has others beside it.
const WAYS: [&str; 6] = ["at_feel", "width", "closed", "bit", "chisel", "pins"];
const HELP: &str = "at_feel when the reading holds the wanted clearance, width from wall to wall; closed for \
                    wedges, bit for a router, chisel for a hollow chisel, pins for one chopped by hand";

impl Reader<'_, '_> {
    pub(super) fn mortise(&mut self, key: &'static str) -> Option<Mortise> {
        let help = format!("such as {key} = {{ at_feel = \"{key}\" }}");
        let mut part = self.needed_part(key, &help)?;
        let entry = part.section.one_of(&WAYS, HELP, part.sink);
        let mortise = entry.and_then(|entry| part.way(entry));
        let mortise = part.leaning(mortise);
        let mortise = part.bowed(mortise);
        let errors = part.sources("errors", &format!("{key}.errors"));
        part.section.close(part.sink);
        let errors = errors?;
        Some(errors.iter().fold(mortise?, Mortise::with))
    }
}

impl Part<'_, '_> {
    fn way(&mut self, entry: &Entry) -> Option<Mortise> {
        match entry.key.as_str() {
            "at_feel" => self.named(entry).map(|width| Mortise::at_feel(&width)),
            "width" => self.named(entry).map(|width| Mortise::geometric(&width)),
            "closed" => self.wedges(entry),
            "bit" => self.routed(entry),
            "chisel" => self.hollow_chisel(entry),
            _ => {
                let pins = self.named(entry);
                let walls = self.needed_cuts("walls");
                Some(Mortise::chopped(&pins?, &walls?))
            }
        }
    }

    fn wedges(&mut self, entry: &Entry) -> Option<Mortise> {
        let closed = self.named(entry);
        let slide = self.need("slide");
        let one_in = self.section.need("one_in");
        let one_in = one_in.and_then(|value| number(value, &self.what("one_in"), self.sink));
        let wedges = Wedges {
            closed: closed?,
            slide: slide?,
            one_in: one_in?,
        };
        self.checked(Mortise::by_wedges(&wedges))
    }

    /// In one pass, or with `shift` and `passes` at two settings.
    fn routed(&mut self, entry: &Entry) -> Option<Mortise> {
        let bit = self.named(entry);
        let run_out = self.need("run_out");
        if !self.any(&["shift", "passes"]) {
            return Some(Mortise::routed_in_one_pass(&bit?, &run_out?));
        }
        let shift = self.need("shift");
        let passes = self.needed_cuts("passes");
        let (bit, run_out) = (bit?, run_out?);
        Some(Mortise::routed_in_two_settings(
            &bit, &run_out, &shift?, &passes?,
        ))
    }

    fn hollow_chisel(&mut self, entry: &Entry) -> Option<Mortise> {
        let chisel = self.named(entry);
        let twist = self.need_of("twist", Dimension::ANGLE);
        let spacing = self.length("spacing");
        let push = HollowChisel {
            chisel: chisel?,
            twist: twist?,
            spacing: spacing?,
        };
        self.checked(Mortise::hollow_chisel(&push))
    }

    /// Walls that lean, where `reach` says so.
    fn leaning(&mut self, mortise: Option<Mortise>) -> Option<Mortise> {
        if !self.any(&["reach", "walls_lean"]) {
            return mortise;
        }
        let reach = self.length("reach");
        let value = self.section.need("walls_lean");
        let role = self.what("walls_lean");
        let lean =
            value.and_then(|value| self.pool.cuts(value, &role, Dimension::ANGLE, self.sink));
        let Cuts { first, second } = lean?;
        Some(mortise?.leaning(reach?, &first, &second))
    }

    fn bowed(&mut self, mortise: Option<Mortise>) -> Option<Mortise> {
        if !self.any(&["walls_bow"]) {
            return mortise;
        }
        let Cuts { first, second } = self.needed_cuts("walls_bow")?;
        Some(mortise?.bowed(&first, &second))
    }

    /// The width that the value of a key names.
    pub(super) fn named(&mut self, entry: &Entry) -> Option<Source> {
        let role = self.what(&entry.key);
        self.pool.width(&entry.value, &role, self.sink)
    }

    pub(super) fn needed_cuts(&mut self, key: &'static str) -> Option<Cuts> {
        let value = self.section.need(key)?;
        let role = self.what(key);
        self.pool.cuts(value, &role, Dimension::LENGTH, self.sink)
    }

    /// Whether any of these keys is there; all of them are known from then on.
    pub(super) fn any(&mut self, keys: &[&'static str]) -> bool {
        let found = keys.iter().filter(|key| self.section.get(key).is_some());
        found.count() > 0
    }

    /// What a recipe made, or its fault.
    pub(super) fn checked<T>(&mut self, made: Result<T, Error>) -> Option<T> {
        match made {
            Ok(made) => Some(made),
            Err(error) => {
                self.sink.at(&self.section.span, error.to_string());
                None
            }
        }
    }
}
