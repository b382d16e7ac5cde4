//! Words of caution, in one place, so that every output says the same.

/// For every output that leads someone to a running saw.
pub const AT_THE_SAW: &[&str] = &[
    "A number is no reason to skip a test cut on scrap.",
    "Unplug or lock out the saw before you touch the blade, measure run-out or fit a dial near it.",
    "Hold the work in a jig with a clamp that cannot let go; never cut a board on end freehand.",
    "Let the waste fall clear; never trap an off-cut between the blade and anything fixed.",
    "Push through in one pass. Do not draw the work back through a turning blade: switch off and wait.",
    "Use the guard, riving knife or spreader that the saw's maker allows for this cut; keep hands on \
     the jig's handles, well outside the blade's path.",
    "Wear eye and ear protection; use dust extraction and a mask. Do a dry run with the saw off.",
];

/// What the numbers are for, and what they are not.
pub const SCOPE: &str = "Kerfwise helps plan the fit of furniture joints. It does not check strength. \
    The instructions of the saw's and tools' makers, local codes and shop rules come first. For \
    stairs, building frames, guards or anything that people stand on or under, have a licensed \
    professional design the joint.";

/// All cautions, the scope last.
#[must_use]
pub fn all() -> Vec<String> {
    AT_THE_SAW
        .iter()
        .copied()
        .chain([SCOPE])
        .map(str::to_owned)
        .collect()
}

/// All of them as a document, in Markdown: docs/safety.md.
///
/// ```
/// let document = kerfwise_report::cautions::document();
/// assert!(document.starts_with("# Before you go to the saw\n"));
/// ```
#[must_use]
pub fn document() -> String {
    let mut text = String::from("# Before you go to the saw\n\n");
    for caution in AT_THE_SAW {
        text.push_str("- ");
        text.push_str(caution);
        text.push('\n');
    }
    text.push_str("\n# What the numbers are for\n\n");
    text.push_str(SCOPE);
    text.push('\n');
    text
}
