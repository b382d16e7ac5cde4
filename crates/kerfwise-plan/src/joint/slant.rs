//! `slant`: the angles of the two cuts.

use super::{Part, Reader};
use kerfwise_joint::{CheekSize, CutAngle, Slant};
use kerfwise_source::{Angle, Dimension};
use kerfwise_stack::Expr;

/// The angles of the first and the second cut, and how large the cheeks are.
#[derive(Debug, Clone)]
pub(super) struct Angles {
    size: CheekSize,
    cuts: [CutAngle; 2],
}

impl Angles {
    pub(super) fn off_one_face(&self) -> Slant {
        let [first, second] = &self.cuts;
        Slant::off_one_face(self.size, [first, second])
    }

    pub(super) fn turned_over(&self) -> Slant {
        let [first, second] = &self.cuts;
        Slant::turned_over(self.size, [first, second])
    }
}

impl Reader<'_, '_> {
    pub(super) fn angles(&mut self) -> Option<Option<Angles>> {
        let Some(mut part) = self.part("slant") else {
            return Some(None);
        };
        let length = part.length("length");
        let width = part.length("width");
        let leans = part.both("lean", "lean_change");
        let yaws = part.both("yaw", "yaw_change");
        part.section.close(part.sink);
        let size = CheekSize {
            length: length?,
            width: width?,
        };
        let ([lean_1, lean_2], [yaw_1, yaw_2]) = (leans?, yaws?);
        let cut = |lean, yaw| CutAngle { lean, yaw };
        Some(Some(Angles {
            size,
            cuts: [cut(lean_1, yaw_1), cut(lean_2, yaw_2)],
        }))
    }
}

impl Part<'_, '_> {
    /// An angle at both cuts: what is the same, and what is drawn for each.
    fn both(&mut self, same: &'static str, change: &'static str) -> Option<[Expr; 2]> {
        let role = self.what(same);
        let same = match self.section.value(same) {
            None => Some(None),
            Some(value) => self
                .pool
                .one(value, &role, Dimension::ANGLE, self.sink)
                .map(Some),
        };
        let role = self.what(change);
        let change = match self.section.value(change) {
            None => Some(None),
            Some(value) => self
                .pool
                .cuts(value, &role, Dimension::ANGLE, self.sink)
                .map(Some),
        };
        let same = same?.map(|source| Expr::source(&source));
        let Some(change) = change? else {
            let same = same.unwrap_or_else(|| Expr::constant(Angle::default()));
            return Some([same.clone(), same]);
        };
        Some([&change.first, &change.second].map(|source| match &same {
            Some(same) => same + source,
            None => Expr::source(source),
        }))
    }
}
