//! `moments.csv`, `muscles.csv`, `details.csv`, `repetitions.csv`, and the same as Parquet.

use super::{WriteError, aside};
use crate::findings::{ArmFindings, RepetitionFinding};
use crate::ground::names::Side;
use crate::muscles::Row;
use crate::results::{ArmSensitivity, Change, QUANTITIES, TrialResults, flag};
use polars::prelude::*;
use rayon::prelude::*;
use std::path::Path;

/// Decimals a number is written with: what the field's instruments mean, and what FORMATS asks for.
const DECIMALS: f64 = 1e6;

/// Rounds to six decimals; a value too large for that is left as it is.
///
/// # Equation
/// Adding and subtracting 1.5 · 2⁵² rounds to the nearest integer (ties to even) for |x| < 2⁵¹.
#[inline]
fn rounded(x: f64) -> f64 {
    const MAGIC: f64 = 6_755_399_441_055_744.0;
    let y = x * DECIMALS;
    // + 0.0 turns -0 into 0
    if y.abs() < 2_251_799_813_685_248.0 {
        ((y + MAGIC) - MAGIC) / DECIMALS + 0.0
    } else {
        x
    }
}

/// A column of numbers; what is not known becomes null.
fn numbers(name: String, values: &[f64], scale: f64) -> Column {
    let rounded: Vec<f64> = values.iter().map(|x| rounded(x * scale)).collect();
    // a sum is not a number exactly if one of its terms is not (there are no infinities here)
    if rounded.iter().sum::<f64>().is_finite() {
        return Float64Chunked::from_vec(name.into(), rounded).into_column();
    }
    Float64Chunked::from_iter_options(
        name.into(),
        rounded.into_iter().map(|x| x.is_finite().then_some(x)),
    )
    .into_column()
}

/// A column of a few words.
fn words<'a>(name: &str, values: impl Iterator<Item = &'a str>) -> Column {
    StringChunked::from_iter_options(name.into(), values.map(|w| (!w.is_empty()).then_some(w))).into_column()
}

/// Columns of bands, with what they mean.
pub const BANDED: [(&str, &str); 2] = [
    (
        "elbow.flexion_moment_half_95_n_m",
        "half of the 95 % interval of elbow.flexion_moment_n_m: the moment plus and minus this (--uncertainty)",
    ),
    (
        "shoulder.moment_size_half_95_n_m",
        "half of the 95 % interval of the size of the shoulder moment (--uncertainty)",
    ),
];

/// The table of moments: one row a frame of the recording; what stands for a pause is none.
pub fn moments(results: &TrialResults) -> PolarsResult<DataFrame> {
    let mut jobs: Vec<(String, &[f64], f64)> = vec![("time_s".into(), &results.time_s, 1.0)];
    for arm in &results.arms {
        for (row, quantity) in QUANTITIES.iter().enumerate().filter(|(row, _)| arm.writes(*row)) {
            jobs.push((
                format!("{}.{}", arm.side, quantity.name),
                arm.series(row),
                quantity.unit.scale(),
            ));
        }
    }
    for bands in results.uncertainty.iter().flat_map(|u| &u.arms) {
        for (name, half) in BANDED
            .iter()
            .zip([&bands.elbow_half_n_m, &bands.shoulder_half_n_m])
        {
            jobs.push((format!("{}.{}", bands.side, name.0), half, 1.0));
        }
    }
    let mut columns: Vec<Column> = jobs
        .into_par_iter()
        .map(|(name, values, scale)| numbers(name, &results.of_rows(values), scale))
        .collect();
    for arm in &results.arms {
        columns.push(words(
            &format!("{}.phase", arm.side),
            results.of_rows(&arm.phases.of_frame).iter().map(|p| p.name()),
        ));
    }
    columns.push(quality(results));
    DataFrame::new(results.rows(), columns)
}

/// One column for all arms: what to know of each frame.
fn quality(results: &TrialResults) -> Column {
    let names: Vec<String> = (0..flag::COMBINATIONS).map(flag::words).collect();
    let of = |f: usize| results.arms.iter().fold(0, |bits, arm| bits | arm.flags[f]);
    words(
        "quality",
        (0..results.time_s.len())
            .filter(|f| results.is_row(*f))
            .map(|f| names[of(f) as usize].as_str()),
    )
}

/// Moments in segment axes and static shares: one row a frame.
pub fn details(results: &TrialResults) -> PolarsResult<DataFrame> {
    let mut columns = vec![numbers("time_s".into(), &results.of_rows(&results.time_s), 1.0)];
    for arm in &results.arms {
        columns.extend(
            arm.details
                .iter()
                .map(|(name, values)| numbers(format!("{}.{name}", arm.side), &results.of_rows(values), 1.0)),
        );
    }
    DataFrame::new(results.rows(), columns)
}

/// Columns of `muscles.csv` of one muscle, `*` its name, with what they mean.
pub const OF_MUSCLE: [(&str, &str); 4] = [
    ("muscle.*.force_n", "force of the muscle (estimate)"),
    (
        "muscle.*.moment_arm_m",
        "its moment arm about elbow flexion, flexor +",
    ),
    ("muscle.*.stress_n_cm2", "its force over its cross-section"),
    (
        "muscle.*.share_percent",
        "part of the net flexion moment that it gives",
    ),
];

/// The other columns of `muscles.csv`, with what they mean.
pub const OF_ELBOW: [(&str, &str); 15] = [
    (
        "elbow.muscle_force_n",
        "forces of all muscles of the elbow added up (estimate)",
    ),
    (
        "elbow.contact_force_n",
        "size of the contact force on the forearm by the upper arm: the net joint force less the pulls of the muscles (estimate)",
    ),
    (
        "elbow.contact_force_body_weights",
        "the same in weights of the whole body",
    ),
    (
        "elbow.contact_compression_n",
        "its part along the forearm, + presses the joint together, - pulls it apart",
    ),
    ("elbow.contact_shear_n", "size of its part across the forearm"),
    (
        "elbow.contact_forearm_x_n",
        "contact force on the forearm, forearm axes, forwards",
    ),
    ("elbow.contact_forearm_y_n", "the same towards the elbow"),
    ("elbow.contact_forearm_z_n", "the same outwards, on both sides"),
    (
        "elbow.contact_humerus_x_n",
        "contact force on the forearm, upper-arm axes, forwards",
    ),
    ("elbow.contact_humerus_y_n", "the same towards the shoulder"),
    ("elbow.contact_humerus_z_n", "the same outwards, on both sides"),
    (
        "elbow.effort_arm_m",
        "moment of all muscles over the sum of their forces",
    ),
    (
        "elbow.load_arm_m",
        "moment of all that the forearm holds at rest over its size, + where flexors hold it",
    ),
    (
        "elbow.mechanical_advantage",
        "effort arm over load arm; empty where motion asks for the other side than the load at rest",
    ),
    (
        "elbow.lever_class",
        "1, 2 or 3; empty where something that is held does not hang",
    ),
];

/// Columns that an assumed co-contraction adds.
pub const OF_COCONTRACTION: [(&str, &str); 2] = [
    (
        "elbow.cocontracted_muscle_force_n",
        "elbow.muscle_force with the assumed co-contraction: an assumption",
    ),
    (
        "elbow.cocontracted_contact_force_n",
        "elbow.contact_force with the assumed co-contraction: an assumption",
    ),
];

/// Columns that bands add to `muscles.csv`.
pub const BANDED_MUSCLES: [(&str, &str); 2] = [
    (
        "elbow.muscle_force_half_95_n",
        "half of the 95 % interval of elbow.muscle_force_n (--uncertainty)",
    ),
    (
        "elbow.contact_force_half_95_n",
        "half of the 95 % interval of elbow.contact_force_n (--uncertainty)",
    ),
];

/// What muscles do and what the elbow bears: one row a frame.
pub fn muscles(results: &TrialResults) -> PolarsResult<DataFrame> {
    let mut columns = vec![numbers("time_s".into(), &results.of_rows(&results.time_s), 1.0)];
    for arm in &results.arms {
        let m = &arm.muscles;
        let mut jobs: Vec<(String, Vec<f64>)> = Vec::new();
        for (i, muscle) in m.of.list.iter().enumerate() {
            let values: [Vec<f64>; 4] = [
                m.series(Row::Force(i)).to_vec(),
                m.series(Row::Arm(i)).to_vec(),
                m.over_time(|f| m.stress_n_cm2(i, f)),
                m.over_time(|f| m.share_percent(i, f)),
            ];
            let named = OF_MUSCLE.iter().map(|c| c.0.replace('*', &muscle.column()));
            jobs.extend(named.zip(values));
        }
        let of: [&dyn Fn(usize) -> f64; 15] = [
            &|f| m.force(f),
            &|f| m.contact(f),
            &|f| m.contact(f) / m.body_weight_n,
            &|f| m.compression(f),
            &|f| m.shear(f),
            &|f| m.contact_forearm(f)[0],
            &|f| m.contact_forearm(f)[1],
            &|f| m.contact_forearm(f)[2],
            &|f| m.contact_humerus(f)[0],
            &|f| m.contact_humerus(f)[1],
            &|f| m.contact_humerus(f)[2],
            &|f| m.effort_arm(f),
            &|f| m.load_arm(f),
            &|f| m.lever(f).map_or(f64::NAN, |l| l.1),
            &|f| m.lever(f).and_then(|l| l.0).map_or(f64::NAN, f64::from),
        ];
        jobs.extend(
            OF_ELBOW
                .iter()
                .zip(of)
                .map(|(c, of)| (c.0.to_owned(), m.over_time(of))),
        );
        if m.of.cocontraction > 0.0 {
            let rows = [Row::CocontractedForce, Row::CocontractedContact];
            let values = rows.map(|r| m.series(r).to_vec());
            jobs.extend(OF_COCONTRACTION.iter().map(|c| c.0.to_owned()).zip(values));
        }
        let bands = results
            .uncertainty
            .iter()
            .flat_map(|u| &u.arms)
            .find(|b| b.side == arm.side);
        if let Some(b) = bands {
            let values = [b.muscle_force_half_n.clone(), b.contact_half_n.clone()];
            jobs.extend(BANDED_MUSCLES.iter().map(|c| c.0.to_owned()).zip(values));
        }
        let made = |(name, values): (String, Vec<f64>)| {
            numbers(format!("{}.{name}", arm.side), &results.of_rows(&values), 1.0)
        };
        columns.extend(jobs.into_par_iter().map(made).collect::<Vec<_>>());
    }
    DataFrame::new(results.rows(), columns)
}

/// Writes a table as CSV; missing cells are empty.
pub fn write_csv(frame: &mut DataFrame, path: &Path) -> Result<(), WriteError> {
    aside::write(path, |out| {
        CsvWriter::new(out)
            .include_header(true)
            .finish(frame)
            .map_err(|e| e.to_string())
    })
}

/// Writes a table as Parquet.
pub fn write_parquet(frame: &mut DataFrame, path: &Path) -> Result<(), WriteError> {
    aside::write(path, |out| {
        ParquetWriter::new(out)
            .with_compression(ParquetCompression::Lz4Raw)
            .finish(frame)
            .map(|_| ())
            .map_err(|e| e.to_string())
    })
}

/// What peaks hang on: one row a source and arm.
pub fn sensitivity(arms: &[ArmSensitivity]) -> PolarsResult<DataFrame> {
    let rows: Vec<(&ArmSensitivity, &Change)> = arms
        .iter()
        .flat_map(|a| a.sources.iter().map(move |c| (a, c)))
        .collect();
    let column = |name: &str, of: &dyn Fn(&Change) -> f64| {
        numbers(
            name.to_owned(),
            &rows.iter().map(|r| of(r.1)).collect::<Vec<_>>(),
            1.0,
        )
    };
    let columns = vec![
        words("side", rows.iter().map(|r| r.0.side.name())),
        words("source", rows.iter().map(|r| r.1.source.as_str())),
        words("unit", rows.iter().map(|r| r.1.unit)),
        column("elbow_per_unit_n_m", &|c| c.elbow_per_unit_n_m),
        column("shoulder_per_unit_n_m", &|c| c.shoulder_per_unit_n_m),
        column("usual", &|c| c.usual),
        column("elbow_if_usual_less_n_m", &|c| c.elbow_if_usual_n_m[0]),
        column("elbow_if_usual_more_n_m", &|c| c.elbow_if_usual_n_m[1]),
        column("shoulder_if_usual_less_n_m", &|c| c.shoulder_if_usual_n_m[0]),
        column("shoulder_if_usual_more_n_m", &|c| c.shoulder_if_usual_n_m[1]),
        words("usual_from", rows.iter().map(|r| r.1.usual_from)),
    ];
    DataFrame::new(rows.len(), columns)
}

/// Repetitions of all arms: one row each; the header stands also if there are none.
pub fn repetitions(findings: &[ArmFindings]) -> PolarsResult<DataFrame> {
    let rows: Vec<(Side, &RepetitionFinding)> = findings
        .iter()
        .flat_map(|a| a.repetitions.iter().map(|r| (a.side, r)))
        .collect();
    let mut columns = vec![
        StringChunked::from_iter_values("side".into(), rows.iter().map(|r| r.0.name())).into_column(),
        Int64Chunked::from_iter_values("repetition".into(), rows.iter().map(|r| r.1.number as i64))
            .into_column(),
    ];
    columns.push(words(
        "complete",
        rows.iter().map(|r| if r.1.complete { "true" } else { "false" }),
    ));
    columns.push(words("order", rows.iter().map(|r| r.1.order)));
    columns.push(words(
        "incomplete_because",
        rows.iter().map(|r| r.1.incomplete_because.unwrap_or("")),
    ));
    for (name, value) in RepetitionFinding::NUMBERS {
        columns.push(numbers(
            name.to_string(),
            &rows.iter().map(|r| value(r.1)).collect::<Vec<_>>(),
            1.0,
        ));
    }
    DataFrame::new(rows.len(), columns)
}
