use super::table::TABLE;
use crate::{Error, ErrorKind};
use kerfwise_source::{Dimension, Quantity, Source, SourceBuilder};
use std::fmt;

/// One row of the table of species: how much a wood moves across its grain, and where the numbers are from.
///
/// The rows are those of `datasets/species/species.csv`. Coefficients and shrinkages are those of the
/// Wood Handbook (FPL-GTR-190), tables 13-5, 4-3 and 4-4; [`Status`] says how far the document itself was
/// seen.
///
/// ```
/// use kerfwise_joint::wood::{Species, Status};
///
/// let ash = Species::named("white ash")?;
/// assert_eq!(ash.radial().to_string(), "0.00169 /%MC");
/// assert_eq!(ash.tangential().to_string(), "0.00274 /%MC");
/// assert_eq!(ash.status(), Status::Read);
/// assert!(Species::all().len() >= 50);
/// # Ok::<(), kerfwise_joint::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Species {
    pub(super) name: &'static str,
    pub(super) also: &'static str,
    pub(super) kind: Kind,
    pub(super) coefficient: Row,
    pub(super) shrinkage: Option<Row>,
    pub(super) zero_shrinkage_at: f64,
    pub(super) note: &'static str,
}

/// Two numbers of one table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Row {
    pub(super) radial: f64,
    pub(super) tangential: f64,
    pub(super) status: Status,
    pub(super) source: &'static str,
}

/// What a row is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Kind {
    /// One species.
    Species,
    /// A trade group: several species are sold under the name.
    Group,
    /// An imported wood, for which published numbers differ more.
    Imported,
}

/// How a number came into the table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Status {
    /// Read in the document itself.
    Read,
    /// Read in a quotation of the document.
    Quoted,
    /// Computed from the shrinkage of the species, by the rule of the footnote of table 13-5.
    Computed,
    /// From memory: look it up before you rely on it.
    Recalled,
}

impl fmt::Display for Status {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Read => "read",
            Self::Quoted => "quoted",
            Self::Computed => "computed",
            Self::Recalled => "recalled",
        })
    }
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Species => "species",
            Self::Group => "group",
            Self::Imported => "imported",
        })
    }
}

impl Species {
    /// Every row, in the order of the table.
    #[must_use]
    pub fn all() -> &'static [Self] {
        &TABLE
    }

    /// A row by its name, or by words that only one row has: `"black walnut"`, `"Walnut, black"`,
    /// `"hard maple"`, `"walnut"`.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::NoSpecies`] when no row has all the words, [`ErrorKind::ManySpecies`] when several have.
    ///
    /// ```
    /// use kerfwise_joint::wood::Species;
    ///
    /// assert_eq!(Species::named("Maple, hard")?.name(), "sugar maple");
    /// let error = Species::named("ash").unwrap_err();
    /// assert_eq!(
    ///     error.to_string(),
    ///     r#"wood "ash" may be any of "black ash", "green ash", "white ash"; write out the one that you mean"#,
    /// );
    /// # Ok::<(), kerfwise_joint::Error>(())
    /// ```
    pub fn named(name: &str) -> Result<&'static Self, Error> {
        let wanted = words(name);
        if let Some(row) = TABLE.iter().find(|row| words(row.name) == wanted) {
            return Ok(row);
        }
        let has_all = |row: &Self| {
            let known = words(&format!("{} {}", row.name, row.also));
            !wanted.is_empty() && wanted.iter().all(|word| known.contains(word))
        };
        let having: Vec<&Self> = TABLE.iter().filter(|row| has_all(row)).collect();
        if let [only] = having[..] {
            return Ok(only);
        }
        let wanted_name = name.chars().take(60).collect();
        let names = |rows: Vec<&Self>| rows.into_iter().map(|row| row.name).collect();
        if having.is_empty() {
            let has_one = |row: &&Self| words(row.name).iter().any(|word| wanted.contains(word));
            return Err(ErrorKind::NoSpecies {
                wanted: wanted_name,
                near: names(TABLE.iter().filter(has_one).collect()),
            }
            .into());
        }
        Err(ErrorKind::ManySpecies {
            wanted: wanted_name,
            rows: names(having),
        }
        .into())
    }

    /// The name.
    #[must_use]
    pub fn name(&self) -> &'static str {
        self.name
    }

    /// One species, a trade group, or imported.
    #[must_use]
    pub fn kind(&self) -> Kind {
        self.kind
    }

    /// Radial dimensional change coefficient, per percent of moisture content.
    #[must_use]
    pub fn radial(&self) -> Quantity {
        per_percent(self.coefficient.radial)
    }

    /// Tangential dimensional change coefficient, per percent of moisture content.
    #[must_use]
    pub fn tangential(&self) -> Quantity {
        per_percent(self.coefficient.tangential)
    }

    /// How the coefficients came into the table.
    #[must_use]
    pub fn status(&self) -> Status {
        self.coefficient.status
    }

    /// Radial and tangential shrinkage from green to ovendry, in percent of the green size, where the
    /// table has them.
    #[must_use]
    pub fn shrinkage(&self) -> Option<(f64, f64)> {
        self.shrinkage.map(|row| (row.radial, row.tangential))
    }

    /// How the shrinkages came into the table.
    #[must_use]
    pub fn shrinkage_status(&self) -> Option<Status> {
        self.shrinkage.map(|row| row.status)
    }

    /// The moisture content, in percent, below which this wood is taken to shrink: 30 for most (Wood
    /// Handbook, chapter 13), 22 where the printed coefficients can only have been made with it (for
    /// mahogany and teak from shrinkages that are no longer printed).
    #[must_use]
    pub fn zero_shrinkage_at(&self) -> f64 {
        self.zero_shrinkage_at
    }

    /// What else is to be known about the row; empty for most.
    #[must_use]
    pub fn note(&self) -> &'static str {
        self.note
    }

    /// How far boards differ from the table: standard deviation of the coefficient, as a share of it.
    ///
    /// 0.15 for one species (coefficient of variation of shrinkage, Wood Handbook, chapter 4, from memory);
    /// 0.2 for a trade group and 0.25 for an imported wood (assumed, no source).
    #[must_use]
    pub fn relative_spread(&self) -> f64 {
        match self.kind {
            Kind::Species => 0.15,
            Kind::Group => 0.2,
            Kind::Imported => 0.25,
        }
    }

    /// A source for one board: how much it moves, with the table as 1. Normal with
    /// [`relative_spread`](Self::relative_spread).
    ///
    /// Parts that share the source are cut from one board, and what is off cancels between them. The
    /// source has no limits; for the worst case give it some.
    ///
    /// ```
    /// use kerfwise_joint::wood::Species;
    ///
    /// let board = Species::named("white ash")?.factor("rail.board").limits_at_sd(2.0).build()?;
    /// assert_eq!(board.bounds(), Some((0.7, 1.3)));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn factor(&self, name: &str) -> SourceBuilder {
        let from = format!(
            "{}: {}; spread between boards assumed",
            self.name,
            self.source()
        );
        Source::new(name, 1.0)
            .normal(self.relative_spread())
            .stated(&from)
    }

    /// Where the coefficients are from, and how they came into the table.
    ///
    /// ```
    /// use kerfwise_joint::wood::Species;
    ///
    /// let ash = Species::named("white ash")?;
    /// assert_eq!(ash.source(), "Wood Handbook (FPL-GTR-190), Table 13-5 (read)");
    /// # Ok::<(), kerfwise_joint::Error>(())
    /// ```
    #[must_use]
    pub fn source(&self) -> String {
        let Row { status, source, .. } = self.coefficient;
        format!("Wood Handbook (FPL-GTR-190), {source} ({status})")
    }
}

/// A coefficient per percent of moisture content.
pub(super) fn per_percent(coefficient: f64) -> Quantity {
    // Two exponents of at most 1 are far from where `per` has nothing to give.
    let dimension = Dimension::NUMBER.per(Dimension::MOISTURE);
    Quantity::new(coefficient, dimension.unwrap_or(Dimension::NUMBER))
}

/// Words without order, case and punctuation: "Ash, white" is "white ash".
fn words(name: &str) -> Vec<String> {
    let mut words: Vec<String> = name
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .map(str::to_lowercase)
        .collect();
    words.sort();
    words
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "what was copied is compared exactly")]
mod tests {
    use super::*;

    /// The table and its data set say the same, cell by cell.
    #[test]
    fn the_table_is_the_data_set() {
        let path = concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/../../datasets/species/species.csv"
        );
        let text = std::fs::read_to_string(path).unwrap();
        let mut lines = text.lines().filter(|line| !line.starts_with('#'));
        assert_eq!(
            lines.next().unwrap(),
            "species,also,kind,radial,tangential,radial_shrinkage,tangential_shrinkage,coefficient_source,\
             coefficient_status,shrinkage_source,shrinkage_status,zero_shrinkage_at,note"
        );
        let rows: Vec<Vec<&str>> = lines.map(cells).collect();
        assert_eq!(rows.len(), Species::all().len());
        for (cells, row) in rows.iter().zip(Species::all()) {
            let number = |k: usize| cells[k].parse::<f64>().unwrap();
            assert_eq!(cells[..2], [row.name, row.also]);
            assert_eq!(cells[2], row.kind.to_string(), "{}", row.name);
            let c = row.coefficient;
            assert_eq!((number(3), number(4)), (c.radial, c.tangential));
            assert_eq!(cells[7..9], [c.source, &c.status.to_string()]);
            match row.shrinkage {
                None => assert_eq!([cells[5], cells[6], cells[9], cells[10]], [""; 4]),
                Some(s) => {
                    assert_eq!((number(5), number(6)), (s.radial, s.tangential));
                    assert_eq!(cells[9..11], [s.source, &s.status.to_string()]);
                }
            }
            assert_eq!(number(11), row.zero_shrinkage_at);
            assert_eq!(cells[12], row.note);
        }
    }

    /// Cells without quotation marks are split at commas; the last one may have commas in quotation marks.
    fn cells(line: &str) -> Vec<&str> {
        let mut cells: Vec<&str> = line.splitn(13, ',').collect();
        if let Some(last) = cells.last_mut() {
            *last = last.trim_matches('"');
        }
        cells
    }

    #[test]
    fn names_are_unique_and_every_number_is_one() {
        for (k, row) in Species::all().iter().enumerate() {
            let others = &Species::all()[k + 1..];
            assert!(
                others
                    .iter()
                    .all(|other| words(other.name) != words(row.name))
            );
            assert_eq!(Species::named(row.name).unwrap(), row);
            let Row {
                radial, tangential, ..
            } = row.coefficient;
            // Every wood moves more along the rings than across them.
            assert!(
                0.0005 < radial && radial < tangential && tangential < 0.005,
                "{}",
                row.name
            );
        }
    }

    /// C from S: straight line from nothing at f to S when dry, on the size at 10 % (footnote of table
    /// 13-5, from memory; it gives the printed coefficients of 50 of the 55 rows that have both).
    #[test]
    fn coefficients_follow_from_shrinkages() {
        let from = |s: f64, f: f64| s / 100.0 / f / (1.0 - s / 100.0 * (f - 10.0) / f);
        let mut agree = 0;
        let mut have_both = 0;
        for row in Species::all() {
            let Some(s) = row.shrinkage else { continue };
            if row.coefficient.status == Status::Computed {
                continue;
            }
            have_both += 1;
            let f = row.zero_shrinkage_at;
            // 1.5 in the fifth decimal: one unit of difference, and half a unit of rounding.
            let near = |c: f64, s: f64| (c - from(s, f)).abs() < 1.5e-5;
            if near(row.coefficient.radial, s.radial)
                && near(row.coefficient.tangential, s.tangential)
            {
                agree += 1;
            } else {
                assert!(
                    row.note.contains("from the shrinkage"),
                    "{} has no note",
                    row.name
                );
            }
        }
        assert_eq!((agree, have_both), (50, 55));
    }

    #[test]
    fn a_name_that_is_none_says_what_comes_near() {
        let message = |name: &str| Species::named(name).unwrap_err().to_string();
        assert_eq!(
            message("purple ash"),
            r#"there is no wood "purple ash" in the table; near are "black ash", "green ash", "white ash"; or give the coefficient as a source"#
        );
        assert_eq!(
            message("zebrano"),
            r#"there is no wood "zebrano" in the table; give the coefficient as a source"#
        );
        assert!(message("").contains(r#"there is no wood """#));
        assert!(message("oak").contains("red oak group"));
        assert_eq!(
            Species::named("quercus ALBA").unwrap().name(),
            "true white oak"
        );
        assert_eq!(Species::named("teak").unwrap().relative_spread(), 0.25);
    }
}
