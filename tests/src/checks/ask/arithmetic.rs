//! What all else is made of: integrals, roots, sums, intervals, whole columns, and the numbers that trials are drawn from.

use super::super::table::Row;
use super::{Answer, Got, at, unknown};
use kerfwise_numeric::columns::{self, QuantileTable};
use kerfwise_numeric::interval::Interval;
use kerfwise_numeric::quadrature::{GaussLegendre, Integral, integrate_adaptive, tanh_sinh};
use kerfwise_numeric::root::{RootTolerance, find_root, minimize};
use kerfwise_numeric::sobol::{BLOCK, Sobol};
use kerfwise_numeric::stream::{Stream, name_key};
use kerfwise_numeric::{float, sum};

/// More than a chunk of a column and no whole number of them.
const COLUMN: usize = 300;

pub(super) fn answer(row: &Row) -> Got {
    let of = row.of.as_deref().unwrap_or_default();
    match (row.ask.as_str(), row.at.all()) {
        ("integral by halving", &[a, b]) => {
            let f = function(of)?;
            Ok(integral(integrate_adaptive(f, a, b, 0.0, 1e-13)))
        }
        ("integral by tanh-sinh", &[a, b]) => {
            let f = function(of)?;
            Ok(integral(tanh_sinh(f, a, b, 0.0, 1e-13)))
        }
        ("integral by Gauss-Legendre", &[a, b, n]) => {
            let rule = GaussLegendre::new(n as usize).ok_or("no such rule")?;
            Ok(rule.integrate(a, b, function(of)?).into())
        }
        ("node", &[n, i]) => member(
            GaussLegendre::new(n as usize)
                .ok_or("no such rule")?
                .nodes(),
            i,
        ),
        ("weight", &[n, i]) => member(
            GaussLegendre::new(n as usize)
                .ok_or("no such rule")?
                .weights(),
            i,
        ),
        ("root", &[lo, hi]) => {
            let root = find_root(function(of)?, lo, hi, NEIGHBOURS).map_err(text)?;
            Ok(root.x.into())
        }
        ("root to a part", &[lo, hi, relative]) => {
            let part = RootTolerance {
                absolute: 0.0,
                relative,
            };
            let root = find_root(function(of)?, lo, hi, part).map_err(text)?;
            Ok(Answer {
                value: root.x,
                bound: Some(root.width),
            })
        }
        ("place of the minimum", &[lo, hi]) => Ok(minimize(function(of)?, lo, hi, NEIGHBOURS)
            .map_err(text)?
            .x
            .into()),
        ("minimum", &[lo, hi]) => {
            let found = minimize(function(of)?, lo, hi, NEIGHBOURS).map_err(text)?;
            Ok(found.value.into())
        }
        ("sum", terms) => Ok(sum::sum(terms.iter().copied()).into()),
        ("whole power", &[x, n]) => Ok(float::powi(x, n as i32).into()),
        ("in a column", _) => in_a_column(of, at(row)?),
        ("uniform number", &[seed, block, place]) => {
            let mut stream = Stream::new(seed as u64, name_key(of), block as u64);
            let mut numbers = vec![0.0; place as usize + 1];
            stream.fill_open01(&mut numbers);
            member(&numbers, place)
        }
        ("Sobol number", &[dimension, seed, scramble, place]) => {
            let points = Sobol::new(dimension as usize, seed as u64, scramble as u64);
            let mut block = [0.0; BLOCK];
            let (number, within) = (place as usize / BLOCK, place as usize % BLOCK);
            points
                .ok_or("no such dimension")?
                .fill(number as u32, &mut block);
            Ok(block[within].into())
        }
        ("lower end" | "upper end", ends) => {
            let found = interval(of, ends).ok_or("no interval")?;
            let is_lower = row.ask.starts_with("lower");
            Ok(if is_lower { found.lo() } else { found.hi() }.into())
        }
        _ => Err(unknown(row)),
    }
}

/// As near as two numbers can be.
const NEIGHBOURS: RootTolerance = RootTolerance {
    absolute: 0.0,
    relative: 0.0,
};

fn text(error: impl std::fmt::Display) -> String {
    error.to_string()
}

fn integral(found: Integral) -> Answer {
    Answer {
        value: found.value,
        bound: Some(found.error),
    }
}

fn member(list: &[f64], place: f64) -> Got {
    let found = list.get(place as usize).ok_or("no such place")?;
    Ok(Answer::from(*found))
}

/// Functions of which integrals, roots and minima are known.
fn function(of: &str) -> Result<fn(f64) -> f64, String> {
    Ok(match of {
        "exp x" => float::exp,
        "sin x" => float::sin,
        "1/(1 + 25 x^2)" => |x| 1.0 / (1.0 + 25.0 * x * x),
        "|x - 1/3|" => |x| (x - 1.0 / 3.0).abs(),
        "1/sqrt(x)" => |x| 1.0 / x.sqrt(),
        "ln x" => float::ln,
        "x^7" => |x| float::powi(x, 7),
        "sqrt(1 - x^2)" => |x| (1.0 - x * x).max(0.0).sqrt(),
        "cos x - x" => |x| float::cos(x) - x,
        "x^3 - 2 x - 5" => |x| (x * x - 2.0) * x - 5.0,
        "(x - 1)^9" => |x| float::powi(x - 1.0, 9),
        "1000 x - cos x" => |x| 1000.0 * x - float::cos(x),
        "exp x - 3 x" => |x| float::exp(x) - 3.0 * x,
        "(x^2 - 2)^2 + x" => |x| (x * x - 2.0) * (x * x - 2.0) + x,
        _ => return Err(format!("no function {of}")),
    })
}

/// A number that stands at every place of a column; all places must come out alike.
fn in_a_column(of: &str, x: f64) -> Got {
    let mut column = [x; COLUMN];
    match of {
        "normal quantile" => columns::normal_quantiles(&mut column),
        "normal cdf" => columns::normal_cdfs(&mut column),
        "logistic quantile" => {
            let quantile = |p: f64| float::ln(p / (1.0 - p));
            QuantileTable::symmetric(quantile).map(&mut column, quantile);
        }
        "exponential quantile" => {
            let lower = |p: f64| -float::ln_1p(-p);
            QuantileTable::two_sided(lower, |q| -float::ln(q)).map(&mut column, lower);
        }
        "3 x - 2" => columns::scale_and_shift(&mut column, 3.0, -2.0),
        "x + 0.75" => columns::shift(&mut column, 0.75),
        "held within -1 to 2" => columns::clamp(&mut column, -1.0, 2.0),
        _ => return Err(format!("no column of {of}")),
    }
    let first = column[0].to_bits();
    match column.iter().all(|x| x.to_bits() == first) {
        true => Ok(column[0].into()),
        false => Err("the places of the column differ".to_owned()),
    }
}

/// Arguments are the ends of one interval, or of two; of a power the exponent comes last.
fn interval(of: &str, ends: &[f64]) -> Option<Interval> {
    let &[lo, hi, ref rest @ ..] = ends else {
        return None;
    };
    let x = Interval::new(lo, hi)?;
    match (of, rest) {
        ("-x", []) => Some(-x),
        ("|x|", []) => Some(x.abs()),
        ("x^2", []) => Some(x.square()),
        ("sqrt x", []) => x.sqrt(),
        ("exp x", []) => Some(x.exp()),
        ("ln x", []) => x.ln(),
        ("sin x", []) => Some(x.sin()),
        ("cos x", []) => Some(x.cos()),
        ("tan x", []) => x.tan(),
        ("asin x", []) => x.asin(),
        ("acos x", []) => x.acos(),
        ("atan x", []) => Some(x.atan()),
        ("x^n", &[n]) => x.powi(n as i32),
        (_, &[from, to]) => two(of, x, Interval::new(from, to)?),
        _ => None,
    }
}

fn two(of: &str, x: Interval, y: Interval) -> Option<Interval> {
    match of {
        "x + y" => Some(x + y),
        "x - y" => Some(x - y),
        "x y" => Some(x * y),
        "x / y" => x / y,
        "the lesser" => Some(x.min(y)),
        "the greater" => Some(x.max(y)),
        _ => None,
    }
}
