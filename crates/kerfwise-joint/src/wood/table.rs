//! The rows of `datasets/species/species.csv`; a test holds the two together.

use super::species::Status::{Computed, Quoted, Read, Recalled};
use super::species::{Kind, Row, Species, Status};

/// Radial and tangential, status, source.
type Numbers = (f64, f64, Status, &'static str);

const fn numbers((radial, tangential, status, source): Numbers) -> Row {
    Row {
        radial,
        tangential,
        status,
        source,
    }
}

const fn row(
    (name, also): (&'static str, &'static str),
    kind: Kind,
    coefficient: Numbers,
    shrinkage: Option<Numbers>,
    zero_shrinkage_at: f64,
    note: &'static str,
) -> Species {
    let shrinkage = match shrinkage {
        Some(shrinkage) => Some(numbers(shrinkage)),
        None => None,
    };
    Species {
        name,
        also,
        kind,
        coefficient: numbers(coefficient),
        shrinkage,
        zero_shrinkage_at,
        note,
    }
}

#[rustfmt::skip] // one row of the table, one line
pub(super) static TABLE: [Species; 60] = [
    row(("red alder", ""), Kind::Species, (0.00151, 0.00256, Read, "Table 13-5"), Some((4.4, 7.3, Read, "Table 4-3")), 30.0, ""),
    row(("black ash", ""), Kind::Species, (0.00172, 0.00274, Read, "Table 13-5"), Some((5.0, 7.8, Read, "Table 4-3")), 30.0, ""),
    row(("green ash", ""), Kind::Species, (0.00169, 0.00274, Read, "Table 13-5"), Some((4.6, 7.1, Read, "Table 4-3")), 30.0, "the coefficient from the shrinkage would be 0.00158 and 0.00248"),
    row(("white ash", ""), Kind::Species, (0.00169, 0.00274, Read, "Table 13-5"), Some((4.9, 7.8, Read, "Table 4-3")), 30.0, ""),
    row(("quaking aspen", ""), Kind::Species, (0.00119, 0.00234, Read, "Table 13-5"), Some((3.5, 6.7, Read, "Table 4-3")), 30.0, ""),
    row(("American basswood", ""), Kind::Species, (0.0023, 0.0033, Read, "Table 13-5"), Some((6.6, 9.3, Read, "Table 4-3")), 30.0, ""),
    row(("American beech", ""), Kind::Species, (0.0019, 0.00431, Read, "Table 13-5"), Some((5.5, 11.9, Read, "Table 4-3")), 30.0, ""),
    row(("paper birch", ""), Kind::Species, (0.00219, 0.00304, Read, "Table 13-5"), Some((6.3, 8.6, Read, "Table 4-3")), 30.0, ""),
    row(("sweet birch", ""), Kind::Species, (0.00256, 0.00338, Read, "Table 13-5"), Some((6.5, 9.0, Read, "Table 4-3")), 30.0, "the coefficient from the shrinkage would be 0.00226 and 0.00319"),
    row(("yellow birch", ""), Kind::Species, (0.00256, 0.00338, Read, "Table 13-5"), Some((7.3, 9.5, Read, "Table 4-3")), 30.0, ""),
    row(("butternut", ""), Kind::Species, (0.00116, 0.00223, Read, "Table 13-5"), Some((3.4, 6.4, Read, "Table 4-3")), 30.0, ""),
    row(("black cherry", ""), Kind::Species, (0.00126, 0.00248, Read, "Table 13-5"), Some((3.7, 7.1, Read, "Table 4-3")), 30.0, ""),
    row(("American chestnut", ""), Kind::Species, (0.00116, 0.00234, Read, "Table 13-5"), Some((3.4, 6.7, Read, "Table 4-3")), 30.0, ""),
    row(("eastern cottonwood", ""), Kind::Species, (0.00133, 0.00327, Read, "Table 13-5"), Some((3.9, 9.2, Read, "Table 4-3")), 30.0, ""),
    row(("American elm", ""), Kind::Species, (0.00144, 0.00338, Read, "Table 13-5"), Some((4.2, 9.5, Read, "Table 4-3")), 30.0, ""),
    row(("rock elm", ""), Kind::Species, (0.00165, 0.00285, Read, "Table 13-5"), Some((4.8, 8.1, Read, "Table 4-3")), 30.0, ""),
    row(("slippery elm", ""), Kind::Species, (0.00169, 0.00315, Read, "Table 13-5"), Some((4.9, 8.9, Read, "Table 4-3")), 30.0, ""),
    row(("hackberry", ""), Kind::Species, (0.00165, 0.00315, Read, "Table 13-5"), Some((4.8, 8.9, Read, "Table 4-3")), 30.0, ""),
    row(("pecan hickory", ""), Kind::Species, (0.00169, 0.00315, Read, "Table 13-5"), Some((4.9, 8.9, Read, "Table 4-3")), 30.0, ""),
    row(("true hickory group", ""), Kind::Group, (0.00259, 0.00411, Recalled, "Table 13-5"), None, 30.0, "a trade group of several species"),
    row(("honeylocust", ""), Kind::Species, (0.00144, 0.0023, Read, "Table 13-5"), Some((4.2, 6.6, Recalled, "Table 4-3")), 30.0, ""),
    row(("black locust", ""), Kind::Species, (0.00158, 0.00252, Read, "Table 13-5"), Some((4.6, 7.2, Recalled, "Table 4-3")), 30.0, ""),
    row(("Pacific madrone", ""), Kind::Species, (0.00194, 0.00451, Read, "Table 13-5"), Some((5.6, 12.4, Recalled, "Table 4-3")), 30.0, ""),
    row(("bigleaf maple", ""), Kind::Species, (0.00126, 0.00248, Read, "Table 13-5"), Some((3.7, 7.1, Recalled, "Table 4-3")), 30.0, ""),
    row(("red maple", ""), Kind::Species, (0.00137, 0.00289, Read, "Table 13-5"), Some((4.0, 8.2, Recalled, "Table 4-3")), 30.0, ""),
    row(("silver maple", ""), Kind::Species, (0.00102, 0.00252, Read, "Table 13-5"), Some((3.0, 7.2, Recalled, "Table 4-3")), 30.0, ""),
    row(("sugar maple", "hard maple"), Kind::Species, (0.00165, 0.00353, Read, "Table 13-5"), Some((4.8, 9.9, Recalled, "Table 4-3")), 30.0, ""),
    row(("red oak group", ""), Kind::Group, (0.00158, 0.00369, Read, "Table 13-5"), None, 30.0, "a trade group of several species"),
    row(("white oak group", ""), Kind::Group, (0.0018, 0.00365, Read, "Table 13-5"), None, 30.0, "a trade group of several species"),
    row(("northern red oak", ""), Kind::Species, (0.00137, 0.00304, Computed, "computed from the shrinkage"), Some((4.0, 8.6, Recalled, "Table 4-3")), 30.0, "coefficient computed from the shrinkage; not in Table 13-5"),
    row(("true white oak", "Quercus alba"), Kind::Species, (0.00194, 0.00376, Computed, "computed from the shrinkage"), Some((5.6, 10.5, Read, "Table 4-3")), 30.0, "coefficient computed from the shrinkage; not in Table 13-5"),
    row(("overcup oak", ""), Kind::Species, (0.00183, 0.00462, Read, "Table 13-5"), Some((5.3, 12.7, Read, "Table 4-3")), 30.0, ""),
    row(("common persimmon", ""), Kind::Species, (0.00278, 0.00403, Read, "Table 13-5"), Some((7.9, 11.2, Read, "Table 4-3")), 30.0, ""),
    row(("sassafras", ""), Kind::Species, (0.00137, 0.00216, Read, "Table 13-5"), Some((4.0, 6.2, Read, "Table 4-3")), 30.0, ""),
    row(("sweetgum", ""), Kind::Species, (0.00183, 0.00365, Read, "Table 13-5"), Some((5.3, 10.2, Read, "Table 4-3")), 30.0, ""),
    row(("American sycamore", ""), Kind::Species, (0.00172, 0.00296, Read, "Table 13-5"), Some((5.0, 8.4, Read, "Table 4-3")), 30.0, ""),
    row(("tanoak", ""), Kind::Species, (0.00169, 0.00423, Read, "Table 13-5"), Some((4.9, 11.7, Read, "Table 4-3")), 30.0, ""),
    row(("black tupelo", ""), Kind::Species, (0.00176, 0.00308, Read, "Table 13-5"), Some((5.1, 8.7, Read, "Table 4-3")), 30.0, ""),
    row(("black walnut", ""), Kind::Species, (0.0019, 0.00274, Read, "Table 13-5"), Some((5.5, 7.8, Read, "Table 4-3")), 30.0, ""),
    row(("yellow-poplar", ""), Kind::Species, (0.00158, 0.00289, Recalled, "Table 13-5"), Some((4.6, 8.2, Read, "Table 4-3")), 30.0, ""),
    row(("baldcypress", ""), Kind::Species, (0.0013, 0.00216, Recalled, "Table 13-5"), Some((3.8, 6.2, Recalled, "Table 4-3")), 30.0, ""),
    row(("yellow cedar", "Alaska"), Kind::Species, (0.00095, 0.00208, Recalled, "Table 13-5"), Some((2.8, 6.0, Read, "Table 4-3")), 30.0, ""),
    row(("Port-Orford cedar", ""), Kind::Species, (0.00158, 0.00241, Recalled, "Table 13-5"), Some((4.6, 6.9, Read, "Table 4-3")), 30.0, ""),
    row(("incense cedar", ""), Kind::Species, (0.00112, 0.0018, Recalled, "Table 13-5"), Some((3.3, 5.2, Read, "Table 4-3")), 30.0, ""),
    row(("eastern redcedar", ""), Kind::Species, (0.00106, 0.00162, Recalled, "Table 13-5"), Some((3.1, 4.7, Read, "Table 4-3")), 30.0, ""),
    row(("western redcedar", ""), Kind::Species, (0.00111, 0.00234, Recalled, "Table 13-5"), Some((2.4, 5.0, Read, "Table 4-3")), 22.0, ""),
    row(("coast Douglas-fir", ""), Kind::Species, (0.00165, 0.00267, Recalled, "Table 13-5"), Some((4.8, 7.6, Read, "Table 4-3")), 30.0, ""),
    row(("white fir", ""), Kind::Species, (0.00112, 0.00245, Quoted, "worked example of chapter 13"), Some((3.3, 7.0, Read, "Table 4-3")), 30.0, "radial read and tangential quoted from the worked example of chapter 13"),
    row(("western hemlock", ""), Kind::Species, (0.00144, 0.00274, Recalled, "Table 13-5"), Some((4.2, 7.8, Recalled, "Table 4-3")), 30.0, ""),
    row(("western larch", ""), Kind::Species, (0.00155, 0.00323, Recalled, "Table 13-5"), Some((4.5, 9.1, Recalled, "Table 4-3")), 30.0, ""),
    row(("eastern white pine", ""), Kind::Species, (0.00071, 0.00212, Quoted, "Table 13-5"), Some((2.1, 6.1, Recalled, "Table 4-3")), 30.0, ""),
    row(("loblolly pine", ""), Kind::Species, (0.00165, 0.00259, Recalled, "Table 13-5"), Some((4.8, 7.4, Recalled, "Table 4-3")), 30.0, ""),
    row(("longleaf pine", ""), Kind::Species, (0.00176, 0.00263, Recalled, "Table 13-5"), Some((5.1, 7.5, Recalled, "Table 4-3")), 30.0, ""),
    row(("ponderosa pine", ""), Kind::Species, (0.00133, 0.00216, Recalled, "Table 13-5"), Some((3.9, 6.2, Recalled, "Table 4-3")), 30.0, ""),
    row(("sugar pine", ""), Kind::Species, (0.00099, 0.00194, Recalled, "Table 13-5"), Some((2.9, 5.6, Recalled, "Table 4-3")), 30.0, ""),
    row(("old-growth redwood", ""), Kind::Species, (0.0012, 0.00205, Recalled, "Table 13-5"), Some((2.6, 4.4, Recalled, "Table 4-3")), 22.0, ""),
    row(("Sitka spruce", ""), Kind::Species, (0.00148, 0.00263, Recalled, "Table 13-5"), Some((4.3, 7.5, Recalled, "Table 4-3")), 30.0, ""),
    row(("true mahogany", "Swietenia"), Kind::Imported, (0.00172, 0.00238, Quoted, "Table 13-5"), Some((3.0, 4.1, Read, "Table 4-4")), 22.0, "the coefficient from the shrinkage would be 0.00139 and 0.00191"),
    row(("African mahogany", "Khaya"), Kind::Imported, (0.00141, 0.00201, Recalled, "Table 13-5"), Some((2.5, 4.5, Read, "Table 4-4")), 30.0, "the coefficient from the shrinkage would be 0.00085 and 0.00155"),
    row(("teak", ""), Kind::Imported, (0.00101, 0.00186, Recalled, "Table 13-5"), Some((2.5, 5.8, Recalled, "Table 4-4")), 22.0, "the coefficient from the shrinkage would be 0.00115 and 0.00272"),];
