//! Where the sources of a log go in a plan, and which they replace, so that nothing counts twice.

use crate::args::LogOf;
use kerfwise_report::GroupsReport;

/// What there is to place.
pub(super) struct Placed<'a> {
    pub(super) of: LogOf,
    /// The beginning of the sources' names.
    pub(super) name: &'a str,
    /// Whether the first source is what the mean is off by, and not the mean.
    pub(super) is_off: bool,
    /// Whether lengths were read; `[joint]` has keys for no others.
    pub(super) is_length: bool,
    /// The plan's sources that are in the log, if a plan was given.
    pub(super) groups: Option<&'a GroupsReport>,
}

impl Placed<'_> {
    /// Comments for a plan file.
    pub(super) fn comments(&self) -> String {
        let lines = match self.of {
            _ if !self.is_length => self.in_an_outcome(),
            LogOf::Mortise => self.of_mortises(),
            LogOf::Tenon | LogOf::Fit if self.is_off => self.with_a_dial(),
            LogOf::Tenon | LogOf::Fit => self.without_a_prediction(),
        };
        lines.iter().map(|line| comment(line)).collect()
    }

    fn part(&self, part: &str) -> String {
        format!("{}.{part}", self.name)
    }

    fn held(&self, names: impl Fn(&GroupsReport) -> &[String], otherwise: &str) -> String {
        match self.groups.map(names) {
            Some([]) => "nothing of that plan".to_owned(),
            Some(names) => names.join(", "),
            None => otherwise.to_owned(),
        }
    }

    /// Set-up and piece, and what stands for each of them in a joint off one face.
    fn spreads_of_a_dial(&self) -> [String; 2] {
        let mortise = match self.of {
            LogOf::Fit => "; of the mortise what its errors name",
            _ => "",
        };
        let set_up = self.held(
            |groups| &groups.set_up,
            "travel_errors with the event \"jig move\" or \"tenon set-up\", plunger_within, lock_down",
        );
        let piece = self.held(
            |groups| &groups.piece,
            &format!("seating, runner_play, kerf_change, moisture{mortise}"),
        );
        [
            format!(
                "- {} holds all that is redrawn with the set-up: {set_up}",
                self.part("set_up")
            ),
            format!(
                "- {} holds all that is redrawn with the piece or the cut: {piece}",
                self.part("piece")
            ),
        ]
    }

    fn with_a_dial(&self) -> Vec<String> {
        let (off, set_up, piece) = (self.part("off"), self.part("set_up"), self.part("piece"));
        let same = self.held(
            |groups| &groups.unseen,
            "travel_errors with the event \"gauge\", the errors of the kerf",
        );
        let [of_set_up, of_piece] = self.spreads_of_a_dial();
        let exact = match self.of {
            LogOf::Fit => {
                "Only kerf and mortise stay in [joint], but with their estimate alone, no readings and no spread."
            }
            _ => {
                "Only the kerf stays in [joint], but with its estimate alone, no readings and no spread."
            }
        };
        vec![
            "In a plan of method \"shifted\" all three go here:".to_owned(),
            "  [joint]".to_owned(),
            format!("  travel_errors = [\"{off}\", \"{set_up}\", \"{piece}\"]"),
            "So that nothing counts twice, take out of [joint], with their [source] blocks:"
                .to_owned(),
            of_set_up,
            of_piece,
            format!("- {off} holds what stayed the same all over the log: {same}"),
            exact.to_owned(),
        ]
    }

    fn without_a_prediction(&self) -> Vec<String> {
        let (mean, set_up, piece) = (self.part("mean"), self.part("set_up"), self.part("piece"));
        let [of_set_up, of_piece] = self.spreads_of_a_dial();
        let mut lines = vec![
            "In a plan of method \"shifted\":".to_owned(),
            "  [joint]".to_owned(),
            format!("  travel_errors = [\"{set_up}\", \"{piece}\"]"),
            format!(
                "and leave {mean} out, since the dial makes the mean; `kerfwise learn --predicted` tells what it is off by."
            ),
            "So that nothing counts twice, take out of [joint], with their [source] blocks:"
                .to_owned(),
            of_set_up,
            of_piece,
            String::new(),
        ];
        lines.extend(self.in_an_outcome());
        lines
    }

    fn of_mortises(&self) -> Vec<String> {
        let (mean, set_up, piece) = (self.part("mean"), self.part("set_up"), self.part("piece"));
        let of_set_up = self.held(|groups| &groups.set_up, "the source of the old width");
        let of_piece = self.held(
            |groups| &groups.piece,
            "what errors names with the event \"piece\", such as \"mortise_spread\"",
        );
        vec![
            "In a plan with [joint], where the width was read from wall to wall:".to_owned(),
            "  [joint]".to_owned(),
            format!("  mortise = {{ width = \"{mean}\", errors = [\"{set_up}\", \"{piece}\"] }}"),
            "with a clearance; where it was read at the wanted feel, at_feel in place of width and no clearance.".to_owned(),
            "So that nothing counts twice, take out of [joint], with their [source] blocks:".to_owned(),
            format!("- {mean} and {set_up} hold all that is redrawn with the set-up: {of_set_up}"),
            format!("- {piece} holds all that is redrawn with the piece: {of_piece}"),
            "The error of the gauge stayed the same all over the log: it stays in errors.".to_owned(),
        ]
    }

    fn in_an_outcome(&self) -> Vec<String> {
        let first = self.part(if self.is_off { "off" } else { "mean" });
        let (set_up, piece) = (self.part("set_up"), self.part("piece"));
        let rest = match self.of {
            LogOf::Tenon if self.is_length => " - (mortise - clearance)",
            _ => "",
        };
        vec![
            "In a plan without [joint], or by another method, an outcome takes all three:"
                .to_owned(),
            format!("  expression = \"{first} + {set_up} + {piece}{rest}\""),
        ]
    }
}

/// A comment; a long list goes on below itself.
fn comment(line: &str) -> String {
    const WIDTH: usize = 110;
    let mut text = String::from("#");
    let mut column = 1;
    for word in line.split(' ') {
        if column + 1 + word.len() > WIDTH {
            text.push_str("\n#  ");
            column = 4;
        }
        text.push(' ');
        text.push_str(word);
        column += 1 + word.len();
    }
    text.truncate(text.trim_end().len());
    text.push('\n');
    text
}
