//! Symmetric positive definite matrices whose rows begin late: Cholesky factor, solution, and the part of the inverse that
//! lies where the factor does.
//!
//! # Source
//! George A, Liu JW (1981) Computer Solution of Large Sparse Positive Definite Systems (envelope methods); Takahashi K,
//! Fagan J, Chen MS (1973) Proc 8th PICA Conf (entries of the inverse; both from memory).

/// The lower part of a symmetric matrix: row i has columns `first[i]` to i, and no row begins before the one above it.
#[derive(Clone, Debug)]
pub struct Envelope {
    first: Vec<usize>,
    /// Where row i begins in `values`; one more than rows.
    start: Vec<usize>,
    values: Vec<f64>,
}

/// Parts of the diagonal that are added to it where rounding has spoilt the matrix.
const HAIRS: [f64; 4] = [0.0, 1e-12, 1e-10, 1e-8];

/// Sum of products; four sums beside each other.
fn dot(a: &[f64], b: &[f64]) -> f64 {
    let (mut s, n) = ([0.0; 8], a.len().min(b.len()));
    let (head_a, tail_a) = a[..n].split_at(n - n % 8);
    let (head_b, tail_b) = b[..n].split_at(n - n % 8);
    for (x, y) in head_a.chunks_exact(8).zip(head_b.chunks_exact(8)) {
        for k in 0..8 {
            s[k] += x[k] * y[k];
        }
    }
    let rest: f64 = tail_a.iter().zip(tail_b).map(|(x, y)| x * y).sum();
    (s[0] + s[4]) + (s[1] + s[5]) + ((s[2] + s[6]) + (s[3] + s[7])) + rest
}

impl Envelope {
    /// Zeros where row i may begin at `first[i]`; rows begin earlier where a later row does.
    pub fn zeros(mut first: Vec<usize>) -> Self {
        for i in (1..first.len()).rev() {
            first[i - 1] = first[i - 1].min(first[i]);
        }
        let mut start = vec![0; first.len() + 1];
        for i in 0..first.len() {
            start[i + 1] = start[i] + i + 1 - first[i];
        }
        let values = vec![0.0; start[first.len()]];
        Self { first, start, values }
    }

    /// Rows.
    pub fn rows(&self) -> usize {
        self.first.len()
    }

    /// The widest row.
    #[cfg(test)]
    fn width(&self) -> usize {
        self.start.windows(2).map(|w| w[1] - w[0]).max().unwrap_or(0)
    }

    fn at(&self, i: usize, j: usize) -> usize {
        let (i, j) = if i < j { (j, i) } else { (i, j) };
        self.start[i] + j - self.first[i]
    }

    /// Entry (i, j) = (j, i), which lies in the envelope.
    pub fn get(&self, i: usize, j: usize) -> f64 {
        self.values[self.at(i, j)]
    }

    /// Adds to entry (i, j) = (j, i), which lies in the envelope.
    pub fn add(&mut self, i: usize, j: usize, x: f64) {
        let at = self.at(i, j);
        self.values[at] += x;
    }

    /// Cholesky factor in place of the matrix; `None` where rounding has made it indefinite, though a hair is added to its
    /// diagonal.
    pub fn factor(&mut self) -> Option<()> {
        for hair in HAIRS {
            let mut tried = self.clone();
            for i in 0..tried.rows() {
                let at = tried.at(i, i);
                tried.values[at] *= 1.0 + hair;
            }
            if tried.factor_as_it_is().is_some() {
                *self = tried;
                return Some(());
            }
        }
        None
    }

    fn factor_as_it_is(&mut self) -> Option<()> {
        for i in 0..self.rows() {
            let (above, row) = self.values.split_at_mut(self.start[i]);
            let from = self.first[i];
            for j in from..i {
                let other = &above[self.start[j] + from - self.first[j]..self.start[j + 1]];
                let (diagonal, left) = other.split_last()?;
                row[j - from] = (row[j - from] - dot(&row[..j - from], left)) / diagonal;
            }
            let own = row[i - from] - dot(&row[..i - from], &row[..i - from]);
            if own <= 0.0 || own.is_nan() {
                return None;
            }
            row[i - from] = own.sqrt();
        }
        Some(())
    }

    /// Solves with the factor, in place.
    pub fn solve(&self, x: &mut [f64]) {
        for i in 0..self.rows() {
            let row = &self.values[self.start[i]..self.start[i + 1]];
            let n = row.len() - 1;
            x[i] = (x[i] - dot(&row[..n], &x[self.first[i]..i])) / row[n];
        }
        for i in (0..self.rows()).rev() {
            let row = &self.values[self.start[i]..self.start[i + 1]];
            let n = row.len() - 1;
            x[i] /= row[n];
            let own = x[i];
            let before = &mut x[self.first[i]..i];
            before.iter_mut().zip(row).for_each(|(x, l)| *x -= l * own);
        }
    }

    /// Entries of the inverse within the envelope, from the factor.
    ///
    /// # Equation
    /// With L the factor and l_k = L_kj / L_jj: Z_ij = -sum over k > j of Z_ik l_k, Z_jj = 1 / L_jj² - sum of l_k Z_kj,
    /// column by column from the last.
    pub fn inverse(&self) -> Self {
        let n = self.rows();
        let mut out = self.clone();
        let mut last = n;
        let (mut l, mut y) = (Vec::new(), Vec::new());
        for j in (0..n).rev() {
            while last > 0 && self.first[last - 1] > j {
                last -= 1;
            }
            let below = last - j - 1;
            let diagonal = self.values[self.at(j, j)];
            l.clear();
            l.extend((j + 1..last).map(|k| self.values[self.start[k] + j - self.first[k]] / diagonal));
            y.clear();
            y.resize(below, 0.0);
            for i in 0..below {
                let row = j + 1 + i;
                let from = self.start[row] + j + 1 - self.first[row];
                let z = &out.values[from..from + i];
                let own = l[i];
                let mut s = [0.0; 4];
                let (head, tail) = (i - i % 4, i % 4);
                for ((z, l), y) in z[..head]
                    .chunks_exact(4)
                    .zip(l[..head].chunks_exact(4))
                    .zip(y[..head].chunks_exact_mut(4))
                {
                    for k in 0..4 {
                        s[k] += z[k] * l[k];
                        y[k] += z[k] * own;
                    }
                }
                for k in i - tail..i {
                    s[0] += z[k] * l[k];
                    y[k] += z[k] * own;
                }
                y[i] += (s[0] + s[1]) + (s[2] + s[3]) + out.values[from + i] * own;
            }
            for (i, y) in y.iter().enumerate() {
                let row = j + 1 + i;
                out.values[self.start[row] + j - self.first[row]] = -y;
            }
            let at = self.at(j, j);
            out.values[at] = 1.0 / (diagonal * diagonal) + dot(&l, &y);
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{DMatrix, DVector};
    use rand::{RngExt, SeedableRng};

    #[test]
    fn engine_nalgebra_factor_solution_and_inverse() {
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(2);
        let n = 60;
        let begins: Vec<usize> = (0..n)
            .map(|i: usize| i.saturating_sub(random.random_range(0..17)))
            .collect();
        let mut m = Envelope::zeros(begins.clone());
        let mut dense = DMatrix::zeros(n, n);
        for i in 0..n {
            for j in begins[i]..=i {
                let x = if i == j {
                    40.0
                } else {
                    random.random_range(-1.0..1.0)
                };
                m.add(i, j, x);
                (dense[(i, j)], dense[(j, i)]) = (x, x);
            }
        }
        let right = DVector::from_fn(n, |_, _| random.random_range(-1.0..1.0));
        let inverse = dense.clone().try_inverse().unwrap();
        m.factor().unwrap();
        let mut x: Vec<f64> = right.iter().copied().collect();
        m.solve(&mut x);
        assert!((DVector::from_vec(x) - &inverse * right).amax() < 1e-13);
        let z = m.inverse();
        for i in 0..n {
            for j in begins[i]..=i {
                assert!((z.get(i, j) - inverse[(i, j)]).abs() < 1e-13, "{i} {j}");
            }
        }
        assert_eq!((m.rows(), m.width() <= 17), (n, true));
        let mut indefinite = Envelope::zeros(vec![0, 0]);
        indefinite.add(0, 0, 1.0);
        indefinite.add(1, 0, 2.0);
        indefinite.add(1, 1, 1.0);
        assert_eq!(indefinite.factor(), None);
    }
}
