//! Pauses of a recording on its grid of frames.

use std::ops::Range;

/// One pause.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pause {
    /// The frame that stands for it: no row of the file, everything is missing there.
    pub separator: usize,
    /// Time of the first frame after it, s.
    pub resumes_s: f64,
}

/// The pauses of a recording, in order: where rows were left out for longer than may be filled.
///
/// A pause takes one frame of the grid, the *separator*, in which everything is missing. So whatever works on
/// unbroken stretches ends there by itself. Separators are no rows: they are not counted and not written.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pauses(Vec<Pause>);

impl Pauses {
    /// In order of time.
    pub fn new(pauses: Vec<Pause>) -> Self {
        Self(pauses)
    }

    /// The same on a clock that is so much ahead.
    pub fn later_by(&self, offset_s: f64) -> Self {
        Self(
            self.0
                .iter()
                .map(|p| Pause {
                    resumes_s: p.resumes_s + offset_s,
                    ..*p
                })
                .collect(),
        )
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The frames that stand for pauses.
    pub fn separators(&self) -> impl Iterator<Item = usize> + '_ {
        self.0.iter().map(|p| p.separator)
    }

    /// Whether a frame is one of the recording, not one that stands for a pause.
    pub fn is_row(&self, frame: usize) -> bool {
        self.0.binary_search_by_key(&frame, |p| p.separator).is_err()
    }

    /// Number of a frame as the file counts, from 0: separators left out.
    pub fn row(&self, frame: usize) -> usize {
        frame - self.0.partition_point(|p| p.separator < frame)
    }

    /// The frame that has this number: the inverse of [`Pauses::row`].
    pub fn frame(&self, row: usize) -> usize {
        // the i-th separator stands ahead of the row numbered separator - i
        row + self
            .0
            .iter()
            .enumerate()
            .take_while(|(i, p)| p.separator - i <= row)
            .count()
    }

    /// How many of these frames are frames of the recording.
    pub fn rows_in(&self, frames: Range<usize>) -> usize {
        frames.len() - self.0.iter().filter(|p| frames.contains(&p.separator)).count()
    }

    /// What lies between pauses, of these frames; no part is empty.
    pub fn split(&self, frames: Range<usize>) -> Vec<Range<usize>> {
        let mut out = Vec::new();
        let mut from = frames.start;
        for at in self.separators().filter(|s| frames.contains(s)) {
            out.push(from..at);
            from = at + 1;
        }
        out.push(from..frames.end);
        out.retain(|r| !r.is_empty());
        out
    }

    /// Time of a frame, s.
    ///
    /// # Equation
    /// start + frame / rate before the first pause; t_resumes + (frame - separator - 1) / rate after one; a
    /// separator itself is half-way between its neighbours, so that time increases.
    #[inline]
    pub fn time(&self, start_s: f64, rate_hz: f64, frame: usize) -> f64 {
        if self.0.is_empty() {
            return start_s + frame as f64 / rate_hz;
        }
        let after = self.0.partition_point(|p| p.separator < frame);
        let in_piece = |frame: usize, after: usize| match after.checked_sub(1) {
            None => start_s + frame as f64 / rate_hz,
            Some(i) => self.0[i].resumes_s + (frame - self.0[i].separator - 1) as f64 / rate_hz,
        };
        match self.0.get(after) {
            // a piece has at least one frame, so there is one before
            Some(p) if p.separator == frame => 0.5 * (in_piece(frame.saturating_sub(1), after) + p.resumes_s),
            _ => in_piece(frame, after),
        }
    }

    /// Last and first time around each pause, s.
    pub fn spans(&self, start_s: f64, rate_hz: f64) -> Vec<(f64, f64)> {
        self.0
            .iter()
            .map(|p| {
                (
                    self.time(start_s, rate_hz, p.separator.saturating_sub(1)),
                    p.resumes_s,
                )
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn property_times_increase_and_rows_and_frames_are_inverse() {
        // pieces of 3, 1 and 2 frames at 10 Hz
        let pauses = Pauses::new(vec![
            Pause {
                separator: 3,
                resumes_s: 9.0,
            },
            Pause {
                separator: 5,
                resumes_s: 20.0,
            },
        ]);
        let times: Vec<f64> = (0..8).map(|f| pauses.time(1.0, 10.0, f)).collect();
        let want = [1.0, 1.1, 1.2, 5.1, 9.0, 14.5, 20.0, 20.1];
        assert!(
            times.iter().zip(want).all(|(a, b)| (a - b).abs() < 1e-12),
            "{times:?}"
        );
        let rows: Vec<usize> = (0..8).filter(|f| pauses.is_row(*f)).collect();
        assert_eq!(rows, [0, 1, 2, 4, 6, 7]);
        for (number, frame) in rows.into_iter().enumerate() {
            assert_eq!((pauses.row(frame), pauses.frame(number)), (number, frame));
        }
        assert_eq!(pauses.split(1..8), [1..3, 4..5, 6..8]);
        assert_eq!(pauses.rows_in(1..8), 5);
        assert_eq!(pauses.spans(1.0, 10.0).len(), 2);
    }
}
