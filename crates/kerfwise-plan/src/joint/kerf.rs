//! The kerf: measured, or from the teeth; and a blade askew.

use super::{Part, Reader};
use crate::document::Entry;
use crate::read::count;
use kerfwise_joint::{Flange, Heel, Kerf, Leaves, RunOut};
use kerfwise_source::Dimension;

/// The key that says which way; each has others beside it.
const WAYS: [&str; 4] = ["source", "test_cut", "pin", "tooth"];
const HELP: &str = "one source, a test cut that was measured, a pin and leaves in a saw cut, or the width of the teeth";
const LEAVES: &str = "write how many leaves stand beside the pin in the saw cut";

impl Reader<'_, '_> {
    pub(super) fn kerf(&mut self) -> Option<Kerf> {
        let mut part = self.needed_part(
            "kerf",
            "such as kerf = { test_cut = \"kerf\", gauge = \"caliper\" }",
        )?;
        let entry = part.section.one_of(&WAYS, HELP, part.sink);
        let kerf = entry.and_then(|entry| part.kerf_way(entry));
        let heel = part.heel();
        let errors = part.sources("errors", "kerf.errors");
        let kerf = match (kerf, heel) {
            (Some(kerf), Some(Some(heel))) => part.checked(kerf.heel(&heel)),
            (kerf, Some(None)) => kerf,
            (_, None) | (None, _) => None,
        };
        part.section.close(part.sink);
        let errors = errors?;
        Some(errors.iter().fold(kerf?, Kerf::with))
    }
}

impl Part<'_, '_> {
    fn kerf_way(&mut self, entry: &Entry) -> Option<Kerf> {
        match entry.key.as_str() {
            "source" => self.named(entry).map(|kerf| Kerf::from_source(&kerf)),
            "test_cut" => {
                let readings = self.named(entry);
                let gauge = self.need("gauge");
                Some(Kerf::from_test_cut(&readings?, &gauge?))
            }
            "pin" => self.pin_and_leaves(entry),
            _ => self.teeth(entry),
        }
    }

    fn pin_and_leaves(&mut self, entry: &Entry) -> Option<Kerf> {
        let pin = self.named(entry);
        let leaf_error = self.need("leaf_error");
        let film = self.optional("film");
        let number = self.section.need("leaves");
        let number = number.and_then(|value| count(value, "kerf.leaves", 1000, LEAVES, self.sink));
        let goes = self.length("goes");
        let does_not_go = self.length("does_not_go");
        let leaves = Leaves {
            count: number?,
            goes: goes?,
            does_not_go: does_not_go?,
        };
        let kerf = Kerf::from_pin_and_leaves(&pin?, leaves, &leaf_error?, film?.as_ref());
        self.checked(kerf)
    }

    /// The teeth and the run-out of the plate, maybe on a flange with run-out of its own.
    fn teeth(&mut self, entry: &Entry) -> Option<Kerf> {
        let tooth = self.named(entry);
        let plate = self.need("plate");
        let keys = ["flange", "flange_radius", "blade_radius", "phase"];
        if !self.any(&keys) {
            return Some(Kerf::from_teeth(&tooth?, &RunOut::of_plate(&plate?)));
        }
        let run_out = self.need("flange");
        let radius = self.length("flange_radius");
        let blade_radius = self.length("blade_radius");
        let phase = self.need_of("phase", Dimension::ANGLE);
        let flange = Flange {
            run_out: run_out?,
            radius: radius?,
            blade_radius: blade_radius?,
            phase: phase?,
        };
        let run_out = self.checked(RunOut::of_plate(&plate?).on_flange(&flange));
        Some(Kerf::from_teeth(&tooth?, &run_out?))
    }

    fn heel(&mut self) -> Option<Option<Heel>> {
        let keys = ["heel", "heel_over", "engaged"];
        if !self.any(&keys) {
            return Some(None);
        }
        let heel = self.need("heel");
        let over = self.length("heel_over");
        let engaged = self.length("engaged");
        Some(Some(Heel {
            heel: heel?,
            over: over?,
            engaged: engaged?,
        }))
    }
}
