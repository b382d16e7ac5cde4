//! Places on the frequency axis in groups of sixteen with common offsets, where sines and cosines cost little.
//!
//! Both the wrapped sum (equal steps) and panels of Gauss–Legendre nodes (equal panels) have this shape: sine and cosine
//! of (start + offset)·x come from those of start·x, one pair a group, and of offset·x, sixteen pairs in all.

use super::smooth::Far;
use kerfwise_numeric::float;
use kerfwise_numeric::sum::CompensatedSum;

/// How many nodes share a start.
pub(super) const GROUP: usize = 16;

/// Nodes t on the positive half-line.
#[derive(Debug, Clone)]
pub(super) struct Comb {
    /// Nodes before the groups.
    pub(super) head: Vec<f64>,
    /// Starts of the groups.
    pub(super) starts: Vec<f64>,
    /// Offsets within every group.
    pub(super) offsets: [f64; GROUP],
}

/// A complex number for every node.
#[derive(Debug, Clone)]
pub(super) struct Teeth {
    pub(super) re: Vec<f64>,
    pub(super) im: Vec<f64>,
}

impl Comb {
    pub(super) fn len(&self) -> usize {
        self.head.len() + GROUP * self.starts.len()
    }

    /// All nodes in order.
    pub(super) fn nodes(&self) -> impl Iterator<Item = f64> {
        let grouped = self
            .starts
            .iter()
            .flat_map(|start| self.offsets.iter().map(move |offset| start + offset));
        self.head.iter().copied().chain(grouped)
    }

    /// Sines and cosines of all offsets times x.
    fn table(&self, x: f64) -> ([f64; GROUP], [f64; GROUP]) {
        let (mut sines, mut cosines) = ([0.0; GROUP], [0.0; GROUP]);
        for i in 0..GROUP {
            (sines[i], cosines[i]) = float::sin_cos(self.offsets[i] * x);
        }
        (sines, cosines)
    }

    /// The sum of re·sin(tx) − im·cos(tx), with `im` empty where the law is even.
    pub(super) fn sine_sum(&self, teeth: &Teeth, x: f64) -> f64 {
        let mut total = CompensatedSum::new();
        self.sine_sums(teeth, x, &mut |part| total.add(part));
        total.value()
    }

    /// That sum in parts: of the head, and of one group after the other.
    pub(super) fn sine_sums(&self, teeth: &Teeth, x: f64, add: &mut dyn FnMut(f64)) {
        let mut head = CompensatedSum::new();
        let even = teeth.im.is_empty();
        for (i, t) in self.head.iter().enumerate() {
            let (sin, cos) = float::sin_cos(t * x);
            head.add(teeth.re[i] * sin);
            if !even {
                head.add(-teeth.im[i] * cos);
            }
        }
        add(head.value());
        let (sines, cosines) = self.table(x);
        for (g, start) in self.starts.iter().enumerate() {
            let from = self.head.len() + GROUP * g;
            let (sin, cos) = float::sin_cos(start * x);
            let re = &teeth.re[from..from + GROUP];
            let (with_cos, with_sin) = (dot(re, &cosines), dot(re, &sines));
            let mut part = sin * with_cos + cos * with_sin;
            if !even {
                let im = &teeth.im[from..from + GROUP];
                part -= cos * dot(im, &cosines) - sin * dot(im, &sines);
            }
            add(part);
        }
    }

    /// The sum of t·(re·cos(tx) + im·sin(tx)).
    pub(super) fn slope_sum(&self, teeth: &Teeth, x: f64) -> f64 {
        let mut total = CompensatedSum::new();
        self.slope_sums(teeth, x, &mut |part| total.add(part));
        total.value()
    }

    /// That sum in parts: of the head, and of one group after the other.
    pub(super) fn slope_sums(&self, teeth: &Teeth, x: f64, add: &mut dyn FnMut(f64)) {
        let mut head = CompensatedSum::new();
        let even = teeth.im.is_empty();
        for (i, t) in self.head.iter().enumerate() {
            let (sin, cos) = float::sin_cos(t * x);
            head.add(t * teeth.re[i] * cos);
            if !even {
                head.add(t * teeth.im[i] * sin);
            }
        }
        add(head.value());
        let (sines, cosines) = self.table(x);
        for (g, start) in self.starts.iter().enumerate() {
            let from = self.head.len() + GROUP * g;
            let (sin, cos) = float::sin_cos(start * x);
            let mut scaled = [0.0; GROUP];
            let mut times_t = |teeth: &[f64]| {
                for i in 0..GROUP {
                    scaled[i] = teeth[from + i] * (start + self.offsets[i]);
                }
                (dot(&scaled, &cosines), dot(&scaled, &sines))
            };
            let (with_cos, with_sin) = times_t(&teeth.re);
            let mut part = cos * with_cos - sin * with_sin;
            if !even {
                let (with_cos, with_sin) = times_t(&teeth.im);
                part += sin * with_cos + cos * with_sin;
            }
            add(part);
        }
    }

    /// The sums of re·sin(tx) and of t·re·cos(tx), for an even law.
    pub(super) fn sine_and_slope_sums(&self, teeth: &Teeth, x: f64) -> [f64; 2] {
        let (mut sine, mut slope) = (CompensatedSum::new(), CompensatedSum::new());
        for (tooth, t) in teeth.re.iter().zip(&self.head) {
            let (sin, cos) = float::sin_cos(t * x);
            sine.add(tooth * sin);
            slope.add(t * tooth * cos);
        }
        let (sines, cosines) = self.table(x);
        for (group, start) in teeth.re[self.head.len()..]
            .chunks_exact(GROUP)
            .zip(&self.starts)
        {
            let (sin, cos) = float::sin_cos(start * x);
            let (with_cos, with_sin) = (dot(group, &cosines), dot(group, &sines));
            sine.add(sin * with_cos + cos * with_sin);
            let mut scaled = [0.0; GROUP];
            for i in 0..GROUP {
                scaled[i] = group[i] * (start + self.offsets[i]);
            }
            slope.add(cos * dot(&scaled, &cosines) - sin * dot(&scaled, &sines));
        }
        [sine.value(), slope.value()]
    }

    /// How many groups begin below a frequency.
    pub(super) fn groups_below(&self, t: f64) -> usize {
        self.starts
            .partition_point(|start| start + self.offsets[0] < t)
    }

    /// The first node of a group.
    pub(super) fn first_of(&self, group: usize) -> f64 {
        self.starts[group] + self.offsets[0]
    }

    /// The index of that node.
    pub(super) fn index_of(&self, group: usize) -> usize {
        self.head.len() + GROUP * group
    }

    /// Zero at every node.
    pub(super) fn zero(&self) -> Teeth {
        Teeth {
            re: vec![0.0; self.len()],
            im: vec![0.0; self.len()],
        }
    }

    /// The sum of weight·exp(itx) over atoms (x, weight), at every node before a group; zero from there on.
    pub(super) fn characteristic(&self, atoms: &[(f64, f64)], groups: usize) -> Teeth {
        let mut teeth = self.zero();
        for &(x, weight) in atoms {
            for (i, t) in self.head.iter().enumerate() {
                let (sin, cos) = float::sin_cos(t * x);
                teeth.re[i] += weight * cos;
                teeth.im[i] += weight * sin;
            }
            let (sines, cosines) = self.table(x);
            for (g, start) in self.starts[..groups].iter().enumerate() {
                let (sin, cos) = float::sin_cos(start * x);
                let turn = (weight * cos, weight * sin);
                self.add(&mut teeth, g, turn, (&cosines, &sines));
            }
        }
        teeth
    }

    /// Adds weight·φ(t)·exp(itx) at every node; an empty imaginary part of φ is zero.
    pub(super) fn add_turned(&self, teeth: &mut Teeth, weight: f64, phi: &Teeth, x: f64) {
        let even = phi.im.is_empty();
        let mut add = |at: usize, cos: f64, sin: f64| {
            let re = weight * phi.re[at];
            if even {
                teeth.re[at] += re * cos;
                teeth.im[at] += re * sin;
            } else {
                let im = weight * phi.im[at];
                teeth.re[at] += re * cos - im * sin;
                teeth.im[at] += re * sin + im * cos;
            }
        };
        for (i, t) in self.head.iter().enumerate() {
            let (sin, cos) = float::sin_cos(t * x);
            add(i, cos, sin);
        }
        let (sines, cosines) = self.table(x);
        for (g, start) in self.starts.iter().enumerate() {
            let (sin, cos) = float::sin_cos(start * x);
            let from = self.index_of(g);
            for i in 0..GROUP {
                let (c, s) = (
                    cos * cosines[i] - sin * sines[i],
                    sin * cosines[i] + cos * sines[i],
                );
                add(from + i, c, s);
            }
        }
    }

    /// The sum of weight·exp(itx) for places and weights off the real line, as pairs of real and imaginary parts; places lie above it.
    pub(super) fn characteristic_above(&self, atoms: &[[f64; 4]]) -> Teeth {
        let mut teeth = self.zero();
        for &[x, y, re, im] in atoms {
            let at = |t: f64, re: f64, im: f64| {
                let (sin, cos) = float::sin_cos(t * x);
                let size = float::exp(-t * y);
                (size * (re * cos - im * sin), size * (re * sin + im * cos))
            };
            for (i, t) in self.head.iter().enumerate() {
                let (a, b) = at(*t, re, im);
                teeth.re[i] += a;
                teeth.im[i] += b;
            }
            let (mut cosines, mut sines) = ([0.0; GROUP], [0.0; GROUP]);
            for i in 0..GROUP {
                (cosines[i], sines[i]) = at(self.offsets[i], 1.0, 0.0);
            }
            for (g, start) in self.starts.iter().enumerate() {
                // From here on it has died.
                if start * y > 60.0 {
                    break;
                }
                self.add(&mut teeth, g, at(*start, re, im), (&cosines, &sines));
            }
        }
        teeth
    }

    /// Adds a complex number times those of all offsets to a group.
    #[inline]
    fn add(
        &self,
        teeth: &mut Teeth,
        group: usize,
        (cos, sin): (f64, f64),
        (cosines, sines): (&[f64; GROUP], &[f64; GROUP]),
    ) {
        let from = self.index_of(group);
        let re = &mut teeth.re[from..from + GROUP];
        let im = &mut teeth.im[from..from + GROUP];
        for i in 0..GROUP {
            re[i] += cos * cosines[i] - sin * sines[i];
            im[i] += sin * cosines[i] + cos * sines[i];
        }
    }

    /// Adds what is heard of a law far out, from a group on.
    pub(super) fn add_far(&self, teeth: &mut Teeth, far: &Far, from: usize) {
        for end in &far.ends {
            let (sines, cosines) = self.table(end.at);
            for (g, start) in self.starts.iter().enumerate().skip(from) {
                let (sin, cos) = float::sin_cos(start * end.at);
                let terms = end.terms(self.first_of(g));
                let first = self.index_of(g);
                for i in 0..GROUP {
                    let (re, im) = end.amplitude(start + self.offsets[i], terms);
                    let c = cos * cosines[i] - sin * sines[i];
                    let s = sin * cosines[i] + cos * sines[i];
                    teeth.re[first + i] += re * c - im * s;
                    teeth.im[first + i] += re * s + im * c;
                }
            }
        }
    }
}

/// Sum of products in four lanes, so that the compiler may use wide instructions.
#[inline(always)]
pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    let mut lanes = [0.0; 4];
    for (x, y) in a.chunks_exact(4).zip(b.chunks_exact(4)) {
        for i in 0..4 {
            lanes[i] += x[i] * y[i];
        }
    }
    (lanes[0] + lanes[1]) + (lanes[2] + lanes[3])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums_by_groups_are_the_plain_sums() {
        let mut offsets = [0.0; GROUP];
        for (i, offset) in offsets.iter_mut().enumerate() {
            *offset = 0.31 * i as f64;
        }
        let comb = Comb {
            head: vec![0.05, 0.1],
            starts: vec![0.2, 5.3],
            offsets,
        };
        let n = comb.len();
        let teeth = Teeth {
            re: (0..n).map(|i| 1.0 / (1.0 + i as f64)).collect(),
            im: (0..n).map(|i| 0.5 - 0.01 * i as f64).collect(),
        };
        let x = 1.7;
        let (mut sine, mut slope) = (0.0, 0.0);
        for (i, t) in comb.nodes().enumerate() {
            let (sin, cos) = float::sin_cos(t * x);
            sine += teeth.re[i] * sin - teeth.im[i] * cos;
            slope += t * (teeth.re[i] * cos + teeth.im[i] * sin);
        }
        // A few dozen terms of size one.
        assert!((comb.sine_sum(&teeth, x) - sine).abs() < 1e-13);
        assert!((comb.slope_sum(&teeth, x) - slope).abs() < 1e-12);
        let phi = comb.characteristic(&[(0.3, 0.25), (-1.0, 0.75)], 2);
        for (i, t) in comb.nodes().enumerate() {
            let re = 0.25 * float::cos(0.3 * t) + 0.75 * float::cos(t);
            let im = 0.25 * float::sin(0.3 * t) - 0.75 * float::sin(t);
            assert!((phi.re[i] - re).abs() < 1e-14 && (phi.im[i] - im).abs() < 1e-14);
        }
    }
}
