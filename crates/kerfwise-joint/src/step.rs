use kerfwise_source::Source;
use kerfwise_stack::Band;

/// The step between the faces of rail and leg, at the reference faces.
///
/// With the far cheek cut first and the tenon in the middle of its mortise:
///
/// ```text
/// face step = first cheek − tenon / 2 − wall − mortise / 2
/// ```
///
/// positive when the rail stands proud of the leg. `first_cheek` is the distance from the rail's
/// reference face to the far cheek, as the first position of the jig sets it; what comes anew with
/// the first cut (seating, runner play, half a change of kerf) is taken off, and so is half of the
/// tenon with all its errors. `wall` is the distance from the leg's reference face to the near wall
/// of the mortise. Stock thickness does not enter at the reference faces; it shows on the back:
///
/// ```text
/// back step = rail thickness − leg thickness − face step
/// ```
///
/// Source of the arithmetic: geometry, common practice, no source.
#[derive(Debug, Clone)]
pub struct FaceStep {
    /// Reference face of the rail to the far cheek, which is cut first.
    pub first_cheek: Source,
    /// Reference face of the leg to the near wall of the mortise.
    pub wall: Source,
    /// What the step may be.
    pub band: Band,
    /// Thickness of rail and leg, where the back is to be watched as well, with its band.
    pub back: Option<(Source, Source, Band)>,
}
