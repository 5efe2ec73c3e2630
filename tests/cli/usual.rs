//! What users do to their files: none of it changes a number.

use crate::common::{Folder, Markers, Refused, column, curl_sheet, farthest, peak, run, run_good};
use armload::ground::warning::Warning;
use armload::results::TrialResults;

const WATCHED: [&str; 4] = [
    "right.elbow.flexion_moment_n_m",
    "right.shoulder.moment_x_n_m",
    "right.wrist.force_z_n",
    "right.elbow.pronation_deg",
];

fn markers() -> Markers {
    Markers::curl().first(60)
}

fn good_csv() -> String {
    markers().csv()
}

fn good() -> TrialResults {
    run_good(&curl_sheet(&[]), &markers())
}

/// The very same numbers come out.
fn same(title: &str, results: Result<TrialResults, Refused>) -> TrialResults {
    let results = results.unwrap_or_else(|e| panic!("{title}: {}", e.text));
    let expected = good();
    assert_eq!(results.time_s.len(), expected.time_s.len(), "{title}");
    for q in WATCHED {
        assert_eq!(column(&results, q), column(&expected, q), "{title}: {q}");
    }
    results
}

fn header(f: impl Fn(&str) -> String) -> String {
    let csv = good_csv();
    let (first, rest) = csv.split_once('\n').unwrap();
    format!(
        "{}\n{rest}",
        first.split(',').map(f).collect::<Vec<_>>().join(",")
    )
}

fn cells(f: impl Fn(&str) -> String) -> String {
    let csv = good_csv();
    let (first, rest) = csv.split_once('\n').unwrap();
    let rows: String = rest
        .lines()
        .map(|l| l.split(',').map(&f).collect::<Vec<_>>().join(",") + "\n")
        .collect();
    format!("{first}\n{rows}")
}

#[test]
fn property_line_ends_byte_order_mark_comments_and_blank_ends() {
    let s = curl_sheet(&[]);
    let csv = good_csv();
    same("CRLF", run(&s, &csv.replace('\n', "\r\n")));
    same("byte order mark", run(&s, &format!("\u{feff}{csv}")));
    same(
        "comments before the header",
        run(&s, &format!("# participant P03\n#\n\n# lab 2\n{csv}")),
    );
    same(
        "byte order mark before a comment",
        run(&s, &format!("\u{feff}# P03\r\n{}", csv.replace('\n', "\r\n"))),
    );
    same("blank lines at the end", run(&s, &format!("{csv}\n\n  \n")));
    same(
        "CRLF and blank lines at the end",
        run(&s, &format!("{csv}\n\n").replace('\n', "\r\n")),
    );
    same("no line end at the end", run(&s, csv.trim_end()));
    // with missing cells the exact reader has to agree on all of that
    let gap = markers().lost("T8", 20..23).csv();
    let expected = column(&run(&s, &gap).unwrap(), WATCHED[1]);
    for (title, text) in [
        ("CRLF", gap.replace('\n', "\r\n")),
        ("blank lines", format!("{gap}\n\n")),
        ("comments", format!("# a\n{gap}")),
        ("CRLF and blank lines", format!("{gap}\n\n").replace('\n', "\r\n")),
    ] {
        assert_eq!(
            column(
                &run(&s, &text).unwrap_or_else(|e| panic!("{title}: {}", e.text)),
                WATCHED[1]
            ),
            expected,
            "{title} with a gap"
        );
    }
    same("a sheet with CRLF", run(&s.replace('\n', "\r\n"), &csv));
    same(
        "a sheet with a byte order mark",
        run(&format!("\u{feff}{s}"), &csv),
    );
}

#[test]
fn property_delimiters_quotes_and_spaces() {
    let s = curl_sheet(&[]);
    same("semicolons", run(&s, &good_csv().replace(',', ";")));
    same("tabs", run(&s, &good_csv().replace(',', "\t")));
    same("quoted header", run(&s, &header(|c| format!("\"{c}\""))));
    same("spaces in the header", run(&s, &header(|c| format!(" {c} "))));
    same("quoted cells", run(&s, &cells(|c| format!("\"{c}\""))));
    same("spaces before numbers", run(&s, &cells(|c| format!("  {c}"))));
    same("spaces after numbers", run(&s, &cells(|c| format!("{c} "))));
    same(
        "plus signs and exponents",
        run(
            &s,
            &cells(|c| {
                if c.starts_with('-') {
                    c.to_owned()
                } else {
                    format!("+{c}e0")
                }
            }),
        ),
    );
}

#[test]
fn property_spellings_of_columns() {
    let s = curl_sheet(&[]);
    let respell = |f: &dyn Fn(&str, &str) -> String| {
        header(|c| {
            c.rsplit_once('_')
                .filter(|_| c != "time_s")
                .map_or(c.to_owned(), |(p, a)| f(p, a))
        })
    };
    same(".x", run(&s, &respell(&|p, a| format!("{p}.{a}"))));
    same(" x", run(&s, &respell(&|p, a| format!("{p} {a}"))));
    same(":x", run(&s, &respell(&|p, a| format!("{p}:{a}"))));
    same(
        "upper-case axes",
        run(&s, &respell(&|p, a| format!("{p}_{}", a.to_uppercase()))),
    );
    same(
        "': X' in quotes",
        run(&s, &respell(&|p, a| format!("\"{p}:{}\"", a.to_uppercase()))),
    );
    same(
        "time",
        run(
            &s,
            &header(|c| if c == "time_s" { "time".into() } else { c.into() }),
        ),
    );
    same(
        "Time_S",
        run(
            &s,
            &header(|c| if c == "time_s" { "Time_S".into() } else { c.into() }),
        ),
    );
    // a side before the landmarks of a one-sided trial, none before the midline
    let midline = ["IJ", "PX", "C7", "T8"];
    let sided = markers().renamed(|n| {
        if midline.contains(&n) || n.starts_with("bell") {
            n.into()
        } else {
            format!("right.{n}")
        }
    });
    same("right.EL", run(&s, &sided.csv()));
    // own names, given their meaning in the sheet
    let own = markers().renamed(|n| match n {
        "EL" => "elbow outer".into(),
        "IJ" => "jugular".into(),
        n => n.into(),
    });
    let rename = s.replace(
        "forward = \"+y\"",
        "forward = \"+y\"\n[markers.rename]\n\"elbow outer\" = \"EL\"\njugular = \"IJ\"",
    );
    same("renamed", run(&rename, &own.csv()));
    same(
        "renamed with side",
        run(&rename.replace("= \"EL\"", "= \"right.EL\""), &own.csv()),
    );
}

#[test]
fn property_extra_and_reordered_columns() {
    let s = curl_sheet(&[]);
    let csv = good_csv();
    let with: String = csv
        .lines()
        .enumerate()
        .map(|(i, l)| {
            if i == 0 {
                format!("frame,{l},force,note\n")
            } else {
                format!("{i},{l},1.5,\n")
            }
        })
        .collect();
    let results = same("extra columns", run(&s, &with));
    let ignored = results.warnings.iter().find_map(|w| match w {
        Warning::IgnoredColumns { columns, .. } => Some(columns.clone()),
        _ => None,
    });
    assert_eq!(
        ignored,
        Some(vec!["frame".to_owned(), "force".into(), "note".into()])
    );
    let turned: String = csv
        .lines()
        .map(|l| l.split(',').rev().collect::<Vec<_>>().join(",") + "\n")
        .collect();
    same("columns from right to left", run(&s, &turned));
    let more = markers().with(Markers {
        time: Vec::new(),
        points: vec![
            ("head".into(), vec![[1.0, 2.0, 3.0]; 60]),
            ("ball".into(), vec![[f64::NAN; 3]; 60]),
        ],
    });
    same("points nobody uses", run(&s, &more.csv()));
}

#[test]
fn property_texts_for_missing_values() {
    let s = curl_sheet(&[]);
    let gap = markers().lost("EM", 20..40);
    let expected = column(&run_good(&s, &gap), WATCHED[0]);
    assert_eq!(expected.iter().filter(|x| x.is_nan()).count(), 20);
    for text in ["NaN", "nan", "n/a", "NA", "N/A", "\"\"", " ", " NaN ", "\"NA\""] {
        let csv: String = gap
            .csv()
            .lines()
            .map(|l| {
                l.replace(",,", &format!(",{text},"))
                    .replace(",,", &format!(",{text},"))
                    + "\n"
            })
            .collect();
        assert!(csv.contains(text) && !csv.contains(",,"));
        let found = column(
            &run(&s, &csv).unwrap_or_else(|e| panic!("{text}: {}", e.text)),
            WATCHED[0],
        );
        // compared as text: NaN is not itself
        assert_eq!(format!("{found:?}"), format!("{expected:?}"), "{text}");
    }
}

#[test]
fn property_no_time_column_but_a_rate() {
    let csv: String = good_csv()
        .lines()
        .map(|l| l.split_once(',').unwrap().1.to_owned() + "\n")
        .collect();
    let results = same(
        "rate_hz",
        run(
            &curl_sheet(&[("length_unit", "rate_hz = 100\nlength_unit")]),
            &csv,
        ),
    );
    assert!(
        (results.rate_hz, results.time_s[0]) == (100.0, 0.0) && (results.time_s[59] - 0.59).abs() < 1e-12
    );
    // with a time column a differing rate is said and not used
    let results = same(
        "time column against rate_hz",
        run(
            &curl_sheet(&[("length_unit", "rate_hz = 120\nlength_unit")]),
            &good_csv(),
        ),
    );
    assert!(
        results
            .warnings
            .iter()
            .any(|w| matches!(w, Warning::RateDiffers { stated_hz: 120.0, .. }))
    );
}

#[test]
fn property_times_that_start_late_or_jitter() {
    let s = curl_sheet(&[]);
    let expected = good();
    let with_times = |f: &dyn Fn(usize) -> String| -> String {
        good_csv()
            .lines()
            .enumerate()
            .map(|(i, l)| {
                if i == 0 {
                    format!("{l}\n")
                } else {
                    format!("{},{}\n", f(i - 1), l.split_once(',').unwrap().1)
                }
            })
            .collect()
    };
    let late = run(&s, &with_times(&|i| format!("{:.2}", 12.34 + i as f64 * 0.01))).unwrap();
    assert!((late.time_s[0], late.rate_hz) == (12.34, 100.0));
    for q in WATCHED {
        assert_eq!(column(&late, q), column(&expected, q));
    }
    // less than a thousandth of the interval is rounded away; a tenth is resampled and said
    let small = run(
        &s,
        &with_times(&|i| format!("{:.7}", i as f64 * 0.01 + if i % 2 == 0 { 4e-6 } else { -4e-6 })),
    )
    .unwrap();
    assert!(
        !small
            .warnings
            .iter()
            .any(|w| matches!(w, Warning::Resampled { .. }))
    );
    let large = run(
        &s,
        &with_times(&|i| format!("{:.7}", i as f64 * 0.01 + 0.001 * (i as f64 * 1.7).sin())),
    )
    .unwrap();
    assert!(
        large
            .warnings
            .iter()
            .any(|w| matches!(w, Warning::Resampled { .. }))
    );
}

#[test]
fn property_a_resampled_recording_is_close_to_an_even_one() {
    // the markers read off at uneven times, by a cubic through the engine's frames
    let m = Markers::curl();
    let times: Vec<f64> = (0..315)
        .map(|i| 0.02 + i as f64 * 0.01 + 0.001 * (i as f64 * 1.7).sin())
        .collect();
    let frames: Vec<f64> = m.time.clone();
    let points = m
        .points
        .iter()
        .map(|(n, p)| {
            let axes = [0, 1, 2].map(|k| {
                armload::ground::spline::CubicSpline::through(
                    &frames,
                    &p.iter().map(|x| x[k]).collect::<Vec<_>>(),
                )
                .unwrap()
            });
            (
                n.clone(),
                times
                    .iter()
                    .map(|t| [axes[0].value(*t), axes[1].value(*t), axes[2].value(*t)])
                    .collect(),
            )
        })
        .collect();
    let uneven = Markers { time: times, points };
    let (even, results) = (
        run_good(&curl_sheet(&[]), &m),
        run_good(&curl_sheet(&[]), &uneven),
    );
    let (a, b) = (column(&even, WATCHED[0]), column(&results, WATCHED[0]));
    assert!((results.time_s[0] - 0.02).abs() < 1e-9);
    // 1 % of the peak away from the ends: splines of splines, differentiated twice
    let worst = (10..300)
        .map(|i| {
            let at = (results.time_s[i] * 100.0).round() as usize;
            assert!((results.time_s[i] - at as f64 / 100.0).abs() < 2e-4);
            (a[at] - b[i]).abs()
        })
        .fold(0.0, f64::max);
    println!("resampled: {:.3} % of the peak", 100.0 * worst / peak(&a));
    assert!(worst < 0.02 * peak(&a), "{}", worst / peak(&a));
}

#[test]
fn property_window_of_results() {
    let whole = run_good(&curl_sheet(&[]), &Markers::curl());
    for smoothing in ["\"none\"", "6"] {
        let whole = if smoothing == "6" {
            run_good(&curl_sheet(&[("\"none\"", "6")]), &Markers::curl())
        } else {
            run_good(&curl_sheet(&[]), &Markers::curl())
        };
        let windowed = run_good(
            &curl_sheet(&[
                ("\"none\"", smoothing),
                (
                    "sides = [\"right\"]",
                    "sides = [\"right\"]\nfrom_s = 0.5\nto_s = 1.25",
                ),
            ]),
            &Markers::curl(),
        );
        assert_eq!((windowed.window.clone(), windowed.time_s.len()), (50..126, 76));
        assert!((windowed.time_s[0] - 0.5).abs() < 1e-12 && (windowed.time_s[75] - 1.25).abs() < 1e-12);
        for q in WATCHED.iter().chain(&["right.elbow.power_w"]) {
            // smoothing and differences have seen the whole file
            assert_eq!(column(&windowed, q), column(&whole, q)[50..126], "{q}");
        }
        assert_eq!(windowed.arms[0].flags, whole.arms[0].flags[50..126]);
        assert_eq!(windowed.arms[0].details[0].1, whole.arms[0].details[0].1[50..126]);
    }
    for (key, value, window) in [
        ("from_s", "2.0", 200..321),
        ("to_s", "0.305", 0..31),
        ("from_s", "-3", 0..321),
        ("to_s", "99", 0..321),
    ] {
        let results = run_good(
            &curl_sheet(&[(
                "sides = [\"right\"]",
                &format!("sides = [\"right\"]\n{key} = {value}"),
            )]),
            &Markers::curl(),
        );
        assert_eq!(results.window, window, "{key} = {value}");
    }
    assert_eq!(whole.window, 0..321);
}

#[test]
fn property_set_of_every_kind_of_value() {
    let folder = Folder::with(&curl_sheet(&[]), &good_csv());
    let set = |sets: &[&str]| {
        folder
            .run(sets)
            .unwrap_or_else(|e| panic!("{sets:?}: {}", e.text))
    };
    let by_sheet = |edits: &[(&str, &str)]| run_good(&curl_sheet(edits), &markers());
    let equal = |a: &TrialResults, b: &TrialResults, what: &str| {
        for q in WATCHED {
            assert_eq!(column(a, q), column(b, q), "{what}: {q}");
        }
    };
    equal(
        &set(&["filter.cutoff_hz=6"]),
        &by_sheet(&[("\"none\"", "6")]),
        "a number",
    );
    equal(
        &set(&["filter.cutoff_hz=auto"]),
        &by_sheet(&[("\"none\"", "\"auto\"")]),
        "a text without quotes",
    );
    equal(
        &set(&["filter.cutoff_hz=\"auto\""]),
        &by_sheet(&[("\"none\"", "\"auto\"")]),
        "a text in quotes",
    );
    equal(
        &set(&["load.0.mass_kg=2.5"]),
        &by_sheet(&[("mass_kg = 6.0", "mass_kg = 2.5")]),
        "an entry of a list",
    );
    equal(
        &set(&["load.0.inertia_kg_m2=[0.02, 0.01, 0.02]"]),
        &by_sheet(&[("[0.031, 0.0087, 0.031]", "[0.02, 0.01, 0.02]")]),
        "a list of numbers",
    );
    equal(
        &set(&["load.0.inertia_kg_m2.1 = 0.01"]),
        &by_sheet(&[("0.0087", "0.01")]),
        "one number of a list",
    );
    equal(
        &set(&["load.0.at=[\"bell_in\", \"bell_out\"]"]),
        &good(),
        "a list of texts",
    );
    equal(
        &set(&["model.shoulder_centre={ method = \"given\" }"]),
        &good(),
        "a table",
    );
    equal(
        &set(&["model.override.right.forearm.mass_kg=1.4"]),
        &by_sheet(&[(
            "gravity_m_s2 = 9.80665",
            "gravity_m_s2 = 9.80665\n[model.override.right.forearm]\nmass_kg = 1.4",
        )]),
        "a table that was not there",
    );
    equal(
        &set(&["markers.up=[0, 0, 2]", "markers.forward=[0.0, 1.0, 0.5]"]),
        &good(),
        "vectors",
    );
    let several = set(&[
        "participant.body_mass_kg=80",
        "participant.sex=male",
        "participant.body_mass_kg=90",
    ]);
    equal(
        &several,
        &by_sheet(&[("63.5", "90"), ("female", "male")]),
        "several, the last one counts",
    );
    // who said what is on record
    let sheet =
        armload::sheet::TrialSheet::read(&folder.path("sheet.toml"), &["filter.cutoff_hz=6".to_owned()])
            .unwrap();
    let source = |key: &str| {
        sheet
            .settings
            .iter()
            .find(|s| s.key == key)
            .unwrap_or_else(|| panic!("{key}"))
            .source
            .clone()
    };
    use armload::ground::form::SourceOfValue::{CommandLine, Sheet};
    assert_eq!(
        (source("filter.cutoff_hz"), source("participant.sex")),
        (CommandLine, Sheet)
    );
    assert!(matches!(
        source("filter.max_gap_s"),
        armload::ground::form::SourceOfValue::Default(_)
    ));
}

#[test]
fn property_load_at_a_fixed_point_or_at_the_grip() {
    let m = Markers::curl();
    let fixed = |at: &str| {
        run_good(
            &curl_sheet(&[(
                "at = [\"bell_in\", \"bell_out\"]\ninertia_kg_m2 = [0.031, 0.0087, 0.031]",
                at,
            )]),
            &m,
        )
    };
    // the middle of the dumbbell in the hand's axes of the engine: the marker pair and the fixed point are
    // one place (hand's axes there: Y along the line of joint centres, X from the knuckles at x = 0)
    let middle = "at = { hand_m = [0.035, -0.073, 0.004] }";
    let (by_point, by_markers) = (fixed(middle), fixed("at = [\"bell_in\", \"bell_out\"]"));
    for q in [
        "right.elbow.moment_z_n_m",
        "right.wrist.moment_x_n_m",
        "right.shoulder.flexion_moment_n_m",
    ] {
        let (a, b) = (column(&by_point, q), column(&by_markers, q));
        assert!(
            farthest(&a, &b, 0..a.len()) < 1e-5 * peak(&a),
            "{q}: {}",
            farthest(&a, &b, 0..a.len()) / peak(&a)
        );
    }
    // own inertia about the hand's axes, at the grip: a shared bar held whole at the grip is a free weight
    // there
    let bar = run_good(
        &curl_sheet(&[
            ("kind = \"free-weight\"", "kind = \"shared-bar\"\nshare = 1.0"),
            (
                "at = [\"bell_in\", \"bell_out\"]\ninertia_kg_m2 = [0.031, 0.0087, 0.031]",
                "",
            ),
        ]),
        &m,
    );
    for q in WATCHED {
        assert_eq!(column(&bar, q), column(&fixed(""), q));
    }
    let half = run_good(
        &curl_sheet(&[
            ("kind = \"free-weight\"", "kind = \"shared-bar\""),
            ("mass_kg = 6.0", "mass_kg = 12.0"),
            (
                "at = [\"bell_in\", \"bell_out\"]\ninertia_kg_m2 = [0.031, 0.0087, 0.031]",
                "",
            ),
        ]),
        &m,
    );
    assert_eq!(column(&half, WATCHED[0]), column(&bar, WATCHED[0]));
}
