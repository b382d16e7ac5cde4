//! Published data sets, for tests. Their provenance is in `datasets/published/README.md`.

/// The rows of a file in `datasets/published/`, without the header.
pub(crate) fn set(name: &str) -> Vec<Vec<f64>> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../datasets/published");
    let text = std::fs::read_to_string(format!("{folder}/{name}.csv")).unwrap();
    let cells = |line: &str| line.split(',').map(|cell| cell.parse().unwrap()).collect();
    text.lines().skip(1).map(cells).collect()
}

pub(crate) fn last_column(rows: &[Vec<f64>]) -> Vec<f64> {
    rows.iter().map(|row| *row.last().unwrap()).collect()
}

/// The readings of a file `treatment,y`, by treatment.
pub(crate) fn by_treatment(rows: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let mut groups: Vec<Vec<f64>> = Vec::new();
    for row in rows {
        let treatment = row[0] as usize;
        groups.resize(groups.len().max(treatment), Vec::new());
        groups[treatment - 1].push(row[1]);
    }
    groups
}

/// NIST `StRD` `NumAcc2`, 3 and 4: a middle value, then one below and one above it, five hundred times.
pub(crate) fn num_acc(digits: [&str; 3]) -> Vec<f64> {
    let [middle, low, high] = digits.map(|text| text.parse().unwrap());
    let mut values = vec![middle];
    for _ in 0..500 {
        values.extend([low, high]);
    }
    values
}

/// NIST `StRD` `SmLs01` to 09: nine treatments, each with a middle value and then `pairs` times one a tenth below and one a
/// tenth above it, after constant leading digits.
pub(crate) fn sm_ls(leading: &str, pairs: usize) -> Vec<Vec<f64>> {
    let number = |tenth: u32| -> f64 { format!("{leading}.{tenth}").parse().unwrap() };
    [4, 3, 5, 3, 5, 3, 5, 3, 5]
        .into_iter()
        .map(|middle| {
            let mut values = vec![number(middle)];
            for _ in 0..pairs {
                values.extend([number(middle - 1), number(middle + 1)]);
            }
            values
        })
        .collect()
}

/// Rosner (1983), Technometrics 25, table 1: the fifty values of a stored copy.
pub(crate) const ROSNER: [f64; 50] = [
    1.20, 1.26, 1.26, 1.34, 1.38, 1.43, 1.49, 1.49, 1.55, 1.56, 1.58, 1.65, 1.69, 1.70, 1.76, 1.77,
    1.81, 1.91, 1.94, 1.96, 1.99, 2.06, 2.09, 2.10, 2.14, 2.15, 2.23, 2.24, 2.26, 2.35, 2.37, 2.40,
    2.47, 2.54, 2.62, 2.64, 2.90, 2.92, 2.92, 2.93, 3.21, 3.26, 3.30, 3.59, 3.68, 4.30, 4.64, 5.34,
    5.42, 6.01,
];
