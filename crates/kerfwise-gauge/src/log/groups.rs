use kerfwise_source::{Event, Source};

/// Which sources of a plan a log tells apart.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Groups {
    /// Redrawn with the set-up: one spread for all of them.
    pub set_up: Vec<String>,
    /// Redrawn with the piece: one spread for all of them.
    pub piece: Vec<String>,
    /// Redrawn with neither: they stay the same all over the log and only move its mean, or are not in it.
    pub unseen: Vec<String>,
    /// Which further measurement would tell which sources apart, in sentences without a full stop.
    pub advice: Vec<String>,
}

impl Groups {
    pub(super) fn new(
        sources: &[Source],
        set_up: &Event,
        piece: &Event,
        is_read_again: bool,
    ) -> Self {
        let (mut of_set_up, mut of_piece, mut unseen) = (Vec::new(), Vec::new(), Vec::new());
        for source in sources {
            // A source known exactly adds to no spread.
            if source
                .standard_uncertainty()
                .is_some_and(|u| u.raw() <= 0.0)
            {
                continue;
            }
            if source.event().is_redrawn_by(piece) {
                of_piece.push(source);
            } else if source.event().is_redrawn_by(set_up) {
                of_set_up.push(source);
            } else {
                unseen.push(source);
            }
        }
        let mut advice = Vec::new();
        separate(&of_set_up, set_up, &mut advice);
        separate(&of_piece, piece, &mut advice);
        if !is_read_again {
            let piece = piece.name();
            advice.push(format!(
                "reading each {piece} twice tells the gauge from the spread of the {piece}s"
            ));
        }
        for (event, names) in by_event(&unseen) {
            let event = event.name();
            advice.push(format!(
                "a log over several of \"{event}\" would show {names}"
            ));
        }
        Self {
            set_up: names(&of_set_up),
            piece: names(&of_piece),
            unseen: names(&unseen),
            advice,
        }
    }
}

/// How to tell the sources of one group apart.
fn separate(group: &[&Source], whole: &Event, advice: &mut Vec<String>) {
    let events = by_event(group);
    for (event, names) in &events {
        let others: Vec<&str> = events
            .iter()
            .filter(|(other, _)| other != event)
            .map(|(_, names)| names.as_str())
            .collect();
        if event != whole && !others.is_empty() {
            let (event, whole, others) = (event.name(), whole.name(), others.join(", "));
            advice.push(format!(
                "\"{event}\" several times in one {whole}, in a column of its own, tells {names} from {others}"
            ));
        }
    }
    for (event, names) in &events {
        if names.contains(", ") {
            let event = event.name();
            advice.push(format!(
                "{names} are redrawn together with \"{event}\": only measuring one of them by itself tells them apart"
            ));
        }
    }
}

/// The events in order of first use, each with the quoted names of its sources.
fn by_event(sources: &[&Source]) -> Vec<(Event, String)> {
    let mut events: Vec<(Event, String)> = Vec::new();
    for source in sources {
        let name = format!("{:?}", source.name());
        match events.iter_mut().find(|(event, _)| event == source.event()) {
            Some((_, names)) => {
                names.push_str(", ");
                names.push_str(&name);
            }
            None => events.push((source.event().clone(), name)),
        }
    }
    events
}

fn names(sources: &[&Source]) -> Vec<String> {
    sources
        .iter()
        .map(|source| source.name().to_owned())
        .collect()
}
