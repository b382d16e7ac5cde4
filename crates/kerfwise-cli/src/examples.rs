//! Real examples for the help of each command, and which commands run trials. A test runs every example.

use clap::Command;

/// Commands that may run Monte Carlo, and so take `--trials`, `--seed` and `--threads`.
const WITH_TRIALS: [&str; 7] = [
    "job", "chance", "setting", "compare", "card", "report", "batch",
];
const OF_TRIALS: [&str; 3] = ["trials", "seed", "threads"];

/// Command and examples, one a line.
const EXAMPLES: &[(&str, &str)] = &[
    (
        "new",
        "kerfwise new rails.toml
kerfwise new legs.toml --from-readings kerf.csv mortises.csv
kerfwise new draft.toml --yes --unit mm",
    ),
    (
        "explain",
        "kerfwise explain run-out
kerfwise explain too loose
kerfwise explain",
    ),
    (
        "completions",
        "kerfwise completions bash
kerfwise completions zsh",
    ),
    (
        "job",
        "kerfwise job stands.toml
kerfwise job stands.toml --unit mm",
    ),
    (
        "chance",
        "kerfwise chance stands.toml
kerfwise chance stands.toml --trials 1000000 --seed 7 --json",
    ),
    ("budget", "kerfwise budget stands.toml"),
    (
        "setting",
        "kerfwise setting stands.toml\nkerfwise setting stands.toml --cost-tight 5 --cost-loose 20
kerfwise setting stands.toml --svg setting.svg",
    ),
    (
        "compare",
        "kerfwise compare stands.toml turned.toml
kerfwise compare stands.toml turned.toml --tight 3 --loose 20",
    ),
    (
        "card",
        "kerfwise card stands.toml -o card.html
kerfwise card stands.toml -o karte.html --unit mm",
    ),
    ("report", "kerfwise report stands.toml -o report.html"),
    (
        "testcut",
        "kerfwise testcut stands.toml
kerfwise testcut stands.toml --measured 0.3742in --measured 0.3751in
kerfwise testcut stands.toml --felt tight
kerfwise testcut stands.toml --cost-tight 5 --cost-loose 20 --cost-test 4",
    ),
    (
        "batch",
        "kerfwise batch stands.toml --assurance 0.9
kerfwise batch stands.toml --measured 0.3751in --measured 0.3745in",
    ),
    (
        "improve",
        "kerfwise improve stands.toml
kerfwise improve stands.toml --wanted 98% --offer lock_residual:0.5:12",
    ),
    (
        "pair",
        "kerfwise pair tenons.csv mortises.csv --clearance 0.003in",
    ),
    (
        "judge",
        "kerfwise judge stands.toml
kerfwise judge stands.toml --measured 0.3779in
kerfwise judge stands.toml --measured 0.3779in --measured 0.3741in --resolution 0.001in",
    ),
    (
        "readings",
        "kerfwise readings kerf.csv
kerfwise readings kerf.csv --lower 0.125in --upper 0.127in",
    ),
    (
        "gauge",
        "kerfwise gauge caliper.csv
kerfwise gauge caliper.csv --band 0.02in",
    ),
    (
        "learn",
        "kerfwise learn log.csv
kerfwise learn log.csv --predicted 0.3744in --sources",
    ),
    (
        "watch",
        "kerfwise watch run.csv
kerfwise watch run.csv --chart ewma --rules",
    ),
];

/// Adds examples, and takes what is about trials from the help of commands that run none.
pub(crate) fn teach(mut command: Command) -> Command {
    let trials: Vec<clap::Arg> = command
        .get_arguments()
        .filter(|arg| OF_TRIALS.contains(&arg.get_id().as_str()))
        .map(|arg| arg.clone().global(false).hide(true))
        .collect();
    let names: Vec<String> = command
        .get_subcommands()
        .map(|sub| sub.get_name().to_owned())
        .collect();
    for name in names {
        if !WITH_TRIALS.contains(&name.as_str()) {
            command = command.mut_subcommand(&name, |sub| sub.args(&trials));
        }
        if let Some((_, lines)) = EXAMPLES.iter().find(|(of, _)| *of == name) {
            let text = format!("Examples:\n  {}", lines.replace('\n', "\n  "));
            command = command.mut_subcommand(&name, |sub| sub.after_help(text));
        }
    }
    command
}

/// An option that the command has no use for, in words.
pub(crate) fn useless(matches: &clap::ArgMatches) -> Option<String> {
    let (name, of_command) = matches.subcommand()?;
    if WITH_TRIALS.contains(&name) {
        return None;
    }
    let from_user = clap::parser::ValueSource::CommandLine;
    let is_given = |id: &&str| {
        [matches, of_command]
            .iter()
            .any(|m| m.value_source(id) == Some(from_user))
    };
    let option = OF_TRIALS.iter().copied().find(is_given)?;
    Some(format!(
        "`kerfwise {name}` runs no Monte Carlo trials, so --{option} has no meaning here; it is for {}",
        WITH_TRIALS.join(", ")
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory as _;

    #[test]
    fn every_command_has_examples_of_its_own() {
        let command = teach(crate::args::Cli::command());
        for sub in command.get_subcommands() {
            let help = sub.get_after_help().expect("examples").to_string();
            let own = format!("\n  kerfwise {}", sub.get_name());
            assert!(help.contains(&own), "{help}");
        }
        for (name, _) in EXAMPLES {
            assert!(command.find_subcommand(name).is_some(), "{name}");
        }
        for name in WITH_TRIALS {
            let is_there = command.find_subcommand(name).is_some();
            assert!(is_there, "{name}");
        }
    }
}
