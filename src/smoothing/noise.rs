//! White noise of a series.

use crate::ground::median;

/// Standard deviation of the white noise of a series; NaN if too little of it is known.
///
/// # Equation
/// median |fourth difference| / (0.6745 √70): fourth differences of smooth movement nearly vanish, those of
/// white noise have the variance 1 + 16 + 36 + 16 + 1 = 70 times its own; 0.6745 turns the median size of
/// normal numbers into their standard deviation.
pub fn white(series: &[f64]) -> f64 {
    let differences = series
        .windows(5)
        .map(|x| (x[0] - 4.0 * x[1] + 6.0 * x[2] - 4.0 * x[3] + x[4]).abs());
    median(differences).map_or(f64::NAN, |m| m / (0.674_489_75 * 70_f64.sqrt()))
}

/// The same of a coordinate of a point: root mean square over its rows.
pub fn of_point<'a>(rows: impl ExactSizeIterator<Item = &'a [f64]>) -> f64 {
    let count = rows.len() as f64;
    let sum: f64 = rows.map(|x| white(x).powi(2)).sum();
    (sum / count).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_distr::{Distribution, Normal};

    #[test]
    fn oracle_noise_on_a_movement_is_found_within_five_percent() {
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(3);
        let noise = Normal::new(0.0, 5e-4).unwrap();
        let x: Vec<f64> = (0..4000)
            .map(|i| 0.3 * (0.05 * i as f64).sin() + noise.sample(&mut random))
            .collect();
        // the standard error of a median of 4000 correlated numbers is about 2 %
        assert!((white(&x) / 5e-4 - 1.0).abs() < 0.05, "{}", white(&x));
        assert!(white(&[1.0, f64::NAN, 1.0]).is_nan());
    }
}
