use serde::{Deserialize, Serialize};

/// What is set at the saw, with the plane or at the gauge, in a maker's words.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum Adjusted {
    /// The travel of a jig, by a dial.
    #[default]
    Travel,
    /// The thickness of a spacer between jig and work.
    Spacer,
    /// From the face of the jig to the tenon's side of the cut.
    Distance,
    /// From the table to the cutter.
    Height,
    /// From pin to pin of a mortise gauge.
    Pins,
    /// The thickness of a loose tenon.
    Slip,
}

impl Adjusted {
    /// What to do, with what to set it to.
    pub(crate) fn order(self, to: &str) -> String {
        match self {
            Self::Travel => format!("Dial {to}"),
            Self::Spacer => format!("Make the spacer {to} thick"),
            Self::Distance => {
                format!("Set the jig with its face {to} from the tenon's side of the cut")
            }
            Self::Height => format!("Set the cutter {to} above the table"),
            Self::Pins => format!("Set the pins of the mortise gauge {to} apart"),
            Self::Slip => format!("Plane the slip {to} thick"),
        }
    }

    /// What it is called beside a number.
    pub(crate) fn name(self) -> &'static str {
        match self {
            Self::Travel => "dial",
            Self::Spacer => "spacer",
            Self::Distance => "distance",
            Self::Height => "height",
            Self::Pins => "pins",
            Self::Slip => "slip",
        }
    }

    /// Where it is measured.
    pub(crate) fn in_full(self) -> &'static str {
        match self {
            Self::Travel => "what the dial shows",
            Self::Spacer => "thickness of the spacer",
            Self::Distance => "from the jig's face to the cut",
            Self::Height => "from the table to the cutter",
            Self::Pins => "from pin to pin",
            Self::Slip => "thickness of the slip",
        }
    }

    /// In which order to work (common practice, no source).
    #[cfg(feature = "html")]
    pub(crate) fn order_of_work(self, to: &str) -> Vec<String> {
        let lines: &[&str] = match self {
            Self::Travel => &[
                "Mark the reference face of every rail; it goes against the jig for both cuts.",
                "Do a dry run with the saw off.",
                "Cut the first cheek on every rail, and on two test pieces of scrap, before the dial is touched.",
                "Saw off and at rest: set the dial to nought against the jig.",
                "Move the jig over until the dial shows {to}. Lock it, and look at the dial again.",
                "Cut the second cheek on a test piece; measure it or try it in its mortise.",
                "Move only for a reason: every move brings a new error with it.",
                "Cut the second cheek on every rail, each seated clean and clamped as before.",
            ],
            Self::Spacer => &[
                "Mark the reference face of every rail; it goes towards the jig for both cuts.",
                "Do a dry run with the saw off.",
                "Make the spacer {to} thick, and measure it in several places.",
                "Cut the first cheek on a test piece of scrap without the spacer, the second with it; measure the tenon or try \
                 it in its mortise.",
                "Cut all rails the same way; keep both faces of the spacer clean.",
            ],
            Self::Distance => &[
                "Do a dry run with the saw off.",
                "Saw off and at rest: set the jig with its face {to} from the near side of the teeth. Lock it, and measure again.",
                "Cut both cheeks of a test piece of scrap as thick as the rails: one face against the jig, then the other; \
                 measure the tenon or try it in its mortise.",
                "The setting counts twice: for a tenon too thick by some amount bring the jig nearer to the cut by half of it.",
                "Cut both cheeks of every rail at this setting, each seated clean and clamped as before.",
            ],
            Self::Height => &[
                "Do a dry run with the saw off.",
                "Saw off and at rest: set the cutter {to} above the table. Lock it, and measure again.",
                "Cut both cheeks of a test piece of scrap as thick as the rails: one face down, then the other; measure the tenon \
                 or try it in its mortise.",
                "The setting counts twice: for a tenon too thick by some amount raise the cutter by half of it.",
                "Cut both cheeks of every rail at this setting, pressed flat to the table each time.",
            ],
            Self::Pins => &[
                "Set the pins of the mortise gauge {to} apart, and do not touch them again.",
                "Mark a reference face on every rail; gauge both lines from it, with light strokes.",
                "Saw a test piece of scrap on the waste side of both lines; measure the tenon or try it in its mortise.",
                "Saw every rail the same way, and pare to the lines where it is tight.",
            ],
            Self::Slip => &[
                "Plane a test slip {to} thick; measure it, and try it in a mortise of a rail and in one of a leg.",
                "Plane all slips at that setting, in one go.",
                "Keep slips and joints in the same air until they are glued.",
            ],
        };
        let lines = lines.iter().map(|line| line.replace("{to}", to));
        lines.collect()
    }
}
