//! `blade_height`: how deep the two cheek cuts go.

use super::{Reader, band};
use kerfwise_joint::BladeHeight;
use kerfwise_source::Dimension;
use kerfwise_stack::Expr;

impl Reader<'_, '_> {
    pub(super) fn blade_height(&mut self) -> Option<Option<BladeHeight>> {
        let Some(mut part) = self.part("blade_height") else {
            return Some(None);
        };
        let height = part.need("height");
        let errors = part.sources("height_errors", "blade_height.height_errors");
        let shoulder = part.need("shoulder");
        let tips = part.optional("tips");
        let role = part.what("support");
        let support = match part.section.value("support") {
            None => Some(None),
            Some(value) => {
                let cuts = part.pool.cuts(value, &role, Dimension::LENGTH, part.sink);
                cuts.map(Some)
            }
        };
        let overcut = match part.section.value("band") {
            None => Some(None),
            Some(value) => band(value, "blade_height.band", part.sink).map(Some),
        };
        let keys = ["mortise_depth", "bottom_band"];
        let bottom = if part.any(&keys) {
            let depth = part.need("mortise_depth");
            let value = part.section.need("bottom_band");
            let room = value.and_then(|value| band(value, "blade_height.bottom_band", part.sink));
            depth.zip(room).map(Some)
        } else {
            Some(None)
        };
        part.section.close(part.sink);
        let start = Expr::source(&height?);
        let height = errors?.iter().fold(start, |sum, error| sum + error);
        let mut blade = BladeHeight::new(height, &shoulder?);
        if let Some(tips) = tips? {
            blade = blade.tips(&tips);
        }
        if let Some(support) = support? {
            blade = blade.support(support);
        }
        if let Some(overcut) = overcut? {
            blade = blade.band(overcut);
        }
        if let Some((depth, room)) = bottom? {
            blade = blade.mortise_depth(&depth, room);
        }
        Some(Some(blade))
    }
}
