//! Bad input: exit status 1, a message with place, found, expected and hint, and nothing in the output
//! folder.

use crate::common::{Folder, Markers, curl_sheet, run};
use assert_cmd::Command;

/// Sixty frames of the engine's curl.
fn good_csv() -> String {
    Markers::curl().first(60).csv()
}

/// One cell of a CSV text replaced; lines and columns count from 1, the header is line 1.
fn cell(line: usize, column: usize, text: &str) -> String {
    let csv = good_csv();
    let mut rows: Vec<Vec<String>> = csv
        .lines()
        .map(|l| l.split(',').map(str::to_owned).collect())
        .collect();
    rows[line - 1][column - 1] = text.to_owned();
    rows.into_iter().map(|r| r.join(",") + "\n").collect()
}

/// The lines of the good CSV changed.
fn lines(f: impl Fn(usize, &str) -> String) -> String {
    good_csv()
        .lines()
        .enumerate()
        .map(|(i, l)| f(i + 1, l) + "\n")
        .collect()
}

/// Runs `armload moments sheet.toml --out out` with a sheet and a marker file and checks the refusal.
fn refused_by_files(title: &str, sheet: &str, csv: impl AsRef<[u8]>, expected: &[&str]) {
    refused(title, sheet, csv, &[], expected);
}

fn refused(title: &str, sheet: &str, csv: impl AsRef<[u8]>, sets: &[&str], expected: &[&str]) {
    let folder = Folder::new();
    folder.write("sheet.toml", sheet);
    folder.write("curl_markers.csv", csv);
    refused_in(&folder, title, sets, expected);
}

fn refused_in(folder: &Folder, title: &str, sets: &[&str], expected: &[&str]) {
    let out = folder.path("out");
    let mut command = Command::new(assert_cmd::cargo::cargo_bin!("armload"));
    command
        .arg("moments")
        .arg(folder.path("sheet.toml"))
        .arg("--out")
        .arg(&out)
        .arg("--no-plots");
    for s in sets {
        command.args(["--set", s]);
    }
    let done = command.output().unwrap();
    let message = String::from_utf8(done.stderr).unwrap();
    assert_eq!(
        done.status.code(),
        Some(1),
        "{title}: exit status, stderr:\n{message}"
    );
    assert!(done.stdout.is_empty(), "{title}: nothing on stdout");
    assert!(
        message.starts_with("error: ") && !message.contains("panicked"),
        "{title}:\n{message}"
    );
    for e in expected {
        assert!(
            message.contains(e),
            "{title}: the message lacks {e:?}:\n{message}"
        );
    }
    let hint = message
        .lines()
        .find_map(|l| l.strip_prefix("hint: "))
        .unwrap_or_else(|| panic!("{title}: no hint:\n{message}"));
    assert!(hint.len() > 10, "{title}: {hint}");
    assert!(!out.exists(), "{title}: the output folder was made");
}

const CSV: &str = "curl_markers.csv";
const SHEET: &str = "sheet.toml";

#[test]
fn cli_cells_that_are_no_numbers() {
    let s = curl_sheet(&[]);
    for text in ["abc", "12,5x", "1.2.3", "--", "0x10", "inf", "-Infinity", "1e999"] {
        if !text.contains(',') {
            refused_by_files(
                text,
                &s,
                cell(7, 18, text),
                &[
                    CSV,
                    "line 7",
                    "column 18",
                    "EL_y",
                    &format!("'{text}'"),
                    "expected a number",
                    "missing values",
                ],
            );
        }
    }
    refused_by_files(
        "a sentence",
        &s,
        cell(7, 18, &"a very long remark ".repeat(20)),
        &["line 7", "a very long remark", "…"],
    );
    refused_by_files(
        "decimal comma",
        &s,
        cell(9, 18, "\"12,5\""),
        &["line 9", "column 18", "'12,5'", "decimal point"],
    );
    refused_by_files(
        "decimal commas, commas between",
        &s,
        lines(|i, l| if i == 1 { l.into() } else { l.replace('.', ",") }),
        &["line 2", "expected 40", "comma"],
    );
    refused_by_files(
        "a comment between rows",
        &s,
        lines(|i, l| {
            if i == 12 {
                format!("# here it slipped\n{l}")
            } else {
                l.into()
            }
        }),
        &["line 12", "# here it slipped"],
    );
    // the table library panics on a lone quote: it must not get to see one
    refused_by_files(
        "a stray quote",
        &s,
        cell(7, 18, "\""),
        &[CSV, "line 7", "column 18", "EL_y", "expected a number"],
    );
    refused_by_files(
        "a stray quote in the last cell",
        &s,
        cell(61, 40, "\"").trim_end(),
        &[CSV, "line 61", "column 40", "expected a number"],
    );
    let mut bytes = good_csv().into_bytes();
    let at = bytes
        .iter()
        .enumerate()
        .filter(|(_, b)| **b == b'\n')
        .nth(4)
        .unwrap()
        .0
        + 8;
    bytes[at] = 0xff;
    refused_by_files(
        "a byte that is no text",
        &s,
        &bytes,
        &[CSV, "line 6", "expected a number"],
    );
    bytes[3] = 0xff;
    refused_by_files("a header that is no text", &s, &bytes, &[CSV, "line 1", "UTF-8"]);
}

#[test]
fn cli_rows_of_the_wrong_shape() {
    let s = curl_sheet(&[]);
    let cut = |keep: usize| {
        lines(|i, l| {
            if i == 20 {
                l.split(',').take(keep).collect::<Vec<_>>().join(",")
            } else {
                l.into()
            }
        })
    };
    refused_by_files(
        "short row",
        &s,
        cut(22),
        &[CSV, "line 20", "22 cells", "expected 40"],
    );
    refused_by_files(
        "short row of one cell",
        &s,
        cut(1),
        &["line 20", "1 cells", "expected 40"],
    );
    refused_by_files(
        "short row with quotes",
        &s,
        cut(22).replace("\n0.18,", "\n\"0.18\","),
        &["line 20", "22 cells", "expected 40"],
    );
    refused_by_files(
        "long row",
        &s,
        lines(|i, l| if i == 20 { format!("{l},3.5") } else { l.into() }),
        &["line 20", "41 cells", "expected 40"],
    );
    refused_by_files(
        "blank line",
        &s,
        lines(|i, l| if i == 20 { format!("\n{l}") } else { l.into() }),
        &["line 20", "blank", "40 cells"],
    );
    refused_by_files(
        "a line cut off at the end",
        &s,
        good_csv().trim_end().rsplit_once(',').unwrap().0,
        &["line 61", "39 cells", "expected 40"],
    );
}

#[test]
fn cli_headers_that_can_not_be_right() {
    let s = curl_sheet(&[]);
    let header = |old: &str, new: &str| lines(|i, l| if i == 1 { l.replace(old, new) } else { l.into() });
    refused_by_files(
        "incomplete triple",
        &s,
        header("EL_z", "note"),
        &[CSV, "line 1", "'EL'", "EL_x, EL_y", "expected x, y and z"],
    );
    refused_by_files(
        "duplicate column",
        &s,
        header("EM_x", "EL_x"),
        &["line 1", "column 20", "'EL_x'", "column 17", "once"],
    );
    refused_by_files(
        "duplicate column in another case",
        &s,
        header("EM_x", "el_X"),
        &["line 1", "column 20", "column 17"],
    );
    refused_by_files(
        "one point by two spellings",
        &s,
        header("EM_x,EM_y,EM_z", "right.EL_x,right.EL_y,right.EL_z"),
        &["'EL'", "'right.EL'", "line 1"],
    );
    refused_by_files(
        "no points",
        &s,
        "time_s,a,b\n0,1,2\n0.01,1,2\n",
        &["line 1", "no point", "EL_x,EL_y,EL_z"],
    );
    refused_by_files(
        "no time",
        &s,
        header("time_s", "frame"),
        &[CSV, "time_s", "rate_hz"],
    );
    refused_by_files("empty", &s, "", &[CSV, "empty", "expected a header"]);
    refused_by_files(
        "only comments",
        &s,
        "# nothing yet\n\n# really\n",
        &[CSV, "empty"],
    );
    refused_by_files(
        "header only",
        &s,
        lines(|i, l| if i == 1 { l.into() } else { String::new() }).trim_end(),
        &[CSV, "header", "no rows"],
    );
    refused_by_files(
        "header and blank lines",
        &s,
        lines(|i, l| if i == 1 { l.into() } else { String::new() }),
        &[CSV, "no rows"],
    );
    refused_by_files(
        "one frame",
        &s,
        good_csv()
            .lines()
            .take(2)
            .map(|l| format!("{l}\n"))
            .collect::<String>(),
        &[CSV, "single frame", "two"],
    );
    refused_by_files(
        "planar, but not in the plane of up",
        &s,
        planar(&[2]),
        &["sheet.toml", "z coordinates", "up"],
    );
}

/// The good CSV without some of its axes.
fn planar(drop: &[usize]) -> String {
    lines(|_, l| {
        l.split(',')
            .enumerate()
            .filter(|(c, _)| *c == 0 || !drop.contains(&((c - 1) % 3)))
            .map(|x| x.1)
            .collect::<Vec<_>>()
            .join(",")
    })
}

#[test]
fn cli_times_that_do_not_increase() {
    let s = curl_sheet(&[]);
    refused_by_files(
        "a repeated time",
        &s,
        cell(10, 1, "0.07"),
        &[CSV, "line 10", "column 1", "time_s", "0.07", "increase"],
    );
    refused_by_files(
        "a time that goes back",
        &s,
        cell(10, 1, "0.01"),
        &["line 10", "0.01 s comes after 0.07 s"],
    );
    refused_by_files(
        "a missing time",
        &s,
        cell(10, 1, ""),
        &["line 10", "column 1", "missing", "expected a number of seconds"],
    );
    let counted = |step: f64| {
        lines(|i, l| {
            if i == 1 {
                l.into()
            } else {
                format!("{},{}", (i - 2) as f64 * step, l.split_once(',').unwrap().1)
            }
        })
    };
    refused_by_files(
        "milliseconds",
        &s,
        counted(10.0),
        &[
            CSV,
            "line 3",
            "column 1",
            "10 s apart",
            "1 to 100000 samples a second",
            "milliseconds",
        ],
    );
    refused_by_files("no seconds at all", &s, counted(1e-300), &["line 3", "s apart"]);
    refused_by_files("far too slow", &s, counted(1e300), &["line 3", "s apart"]);
    refused_by_files(
        "NaN as a time",
        &s,
        cell(10, 1, "NaN"),
        &["line 10", "column 1", "missing"],
    );
}

#[test]
fn cli_files_that_are_not_there() {
    let folder = Folder::new();
    refused_in(&folder, "no sheet", &[], &["sheet.toml", "can't read"]);
    folder.write("sheet.toml", curl_sheet(&[]));
    refused_in(&folder, "no marker file", &[], &[CSV, "can't read"]);
    std::fs::create_dir(folder.path(CSV)).unwrap();
    refused_in(&folder, "a folder as marker file", &[], &[CSV, "folder"]);
    refused_by_files(
        "no calibration file",
        &(curl_sheet(&[]) + "[calibration]\nfile = \"still.csv\"\n"),
        good_csv(),
        &["still.csv", "can't read"],
    );
    let folder = Folder::new();
    std::fs::create_dir(folder.path("sheet.toml")).unwrap();
    refused_in(&folder, "a folder as sheet", &[], &["sheet.toml", "can't read"]);
    let folder = Folder::new();
    folder.write("sheet.toml", [0xff, 0xfe, 0x41]);
    refused_in(&folder, "a sheet that is no text", &[], &["sheet.toml", "UTF-8"]);
}

/// Line of a text in the sheet, counted from 1.
fn line_of(sheet: &str, text: &str) -> String {
    format!(
        "line {}",
        1 + sheet
            .lines()
            .position(|l| l.contains(text))
            .unwrap_or_else(|| panic!("{text} in\n{sheet}"))
    )
}

/// A sheet with one text replaced, and what its refusal has to say beside file and line of the new text.
fn bad_sheet(old: &str, new: &str, expected: &[&str]) {
    let sheet = curl_sheet(&[(old, new)]);
    let last = new.lines().last().unwrap();
    let line = line_of(&sheet, last);
    refused_by_files(
        new,
        &sheet,
        good_csv(),
        &[&[SHEET, &line, "column"], expected].concat(),
    );
}

#[test]
fn cli_sheets_with_unknown_keys_and_names() {
    bad_sheet(
        "body_mass_kg = 63.5",
        "body_mas_kg = 63.5",
        &["body_mas_kg", "body_mass_kg"],
    );
    bad_sheet(
        "stature_m = 1.684",
        "statur_m = 1.684",
        &["unknown key 'participant.statur_m'", "did you mean 'stature_m'"],
    );
    bad_sheet(
        "hand = \"segment\"",
        "hands = \"segment\"",
        &["unknown key 'model.hands'", "did you mean 'hand'"],
    );
    bad_sheet(
        "cutoff_hz = \"none\"",
        "cutoff = 6",
        &["unknown key 'filter.cutoff'", "cutoff_hz"],
    );
    bad_sheet(
        "mass_kg = 6.0",
        "mass_kg = 6.0\ncolour = \"red\"",
        &["unknown key 'load.0.colour'", "keys known here"],
    );
    bad_sheet(
        "[filter]",
        "[filters]",
        &["unknown key 'filters'", "did you mean 'filter'"],
    );
    bad_sheet(
        "\"deleva-1996\"",
        "\"deleva-1969\"",
        &[
            "'model.anthropometry' is \"deleva-1969\"",
            "deleva-1996, dempster-winter",
            "did you mean",
        ],
    );
    bad_sheet("\"female\"", "\"woman\"", &["\"woman\"", "female, male"]);
    bad_sheet(
        "sides = [\"right\"]",
        "sides = [\"rihgt\"]",
        &["\"rihgt\"", "did you mean \"right\""],
    );
    bad_sheet(
        "\"given\"",
        "\"guessed\"",
        &[
            "model.shoulder_centre.method",
            "\"guessed\"",
            "given",
            "below-acromion",
        ],
    );
    bad_sheet(
        "\"free-weight\"",
        "\"free-wieght\"",
        &["'load.0.kind'", "did you mean \"free-weight\""],
    );
    bad_sheet(
        "\"mm\"",
        "\"furlong\"",
        &["'markers.length_unit' is \"furlong\"", "mm, cm, m"],
    );
    bad_sheet(
        "up = \"+z\"",
        "up = \"+w\"",
        &["'markers.up' is \"+w\"", "+x, -x"],
    );
    bad_sheet(
        "forward = \"+y\"",
        "forward = \"+y\"\n[markers.rename]\nEL = \"ELBOW\"",
        &["'markers.rename.EL' is \"ELBOW\"", "EL"],
    );
    bad_sheet(
        "cutoff_hz = \"none\"",
        "cutoff_hz = \"automatic\"",
        &[
            "'filter.cutoff_hz' is \"automatic\"",
            "auto, residual, none, a number in Hz",
        ],
    );
    bad_sheet(
        "cutoff_hz = \"none\"",
        "method = \"moving-average\"",
        &["'filter.method'", "butterworth, spline"],
    );
}

#[test]
fn cli_sheets_with_missing_keys_and_wrong_kinds() {
    bad_sheet("id = \"curl\"", "id = \"\"", &["'trial.id'", "not empty"]);
    bad_sheet(
        "id = \"curl\"",
        "id = \"../../curl\"",
        &["'trial.id'", "no slashes"],
    );
    bad_sheet(
        "id = \"curl\"",
        "id = 7",
        &["'trial.id' is the number 7", "expected a text"],
    );
    bad_sheet(
        "sides = [\"right\"]",
        "sides = []",
        &["'trial.sides' is an empty list"],
    );
    bad_sheet(
        "sides = [\"right\"]",
        "sides = [\"right\", \"right\"]",
        &["'trial.sides'", "each side once"],
    );
    bad_sheet(
        "sides = [\"right\"]",
        "sides = \"right\"",
        &["'trial.sides' is the text \"right\"", "a list of texts"],
    );
    bad_sheet(
        "body_mass_kg = 63.5",
        "body_mass_kg = \"63.5\"",
        &[
            "'participant.body_mass_kg' is the text \"63.5\"",
            "a finite number",
        ],
    );
    bad_sheet(
        "body_mass_kg = 63.5",
        "body_mass_kg = nan",
        &["'participant.body_mass_kg'", "a finite number"],
    );
    bad_sheet(
        "mass_kg = 6.0",
        "mass_kg = [6.0]",
        &["'load.0.mass_kg' is a list of 1"],
    );
    bad_sheet(
        "forward = \"+y\"",
        "forward = [0, 1]",
        &["'markers.forward'", "three numbers"],
    );
    bad_sheet("id = \"curl\"", "id = \"curl", &["not valid TOML"]);
    let lacks = |text: &str, expected: &[&str]| {
        refused_by_files(
            text,
            &curl_sheet(&[(text, "")]),
            good_csv(),
            &[&[SHEET], expected].concat(),
        )
    };
    lacks(
        "[participant]\nsex = \"female\"\nbody_mass_kg = 63.5\nstature_m = 1.684\n",
        &["'participant' is missing"],
    );
    lacks(
        "sex = \"female\"\n",
        &["'participant.sex' is missing", "\"female\" or \"male\""],
    );
    lacks(
        "body_mass_kg = 63.5\n",
        &["'participant.body_mass_kg' is missing", "kg"],
    );
    lacks(
        "length_unit = \"mm\"\n",
        &["'markers.length_unit' is missing", "never guessed"],
    );
    lacks("up = \"+z\"\n", &["'markers.up' is missing", "signed lab axis"]);
    lacks("file = \"curl_markers.csv\"\n", &["'markers.file' is missing"]);
    lacks("sides = [\"right\"]\n", &["'trial.sides' is missing"]);
    lacks("mass_kg = 6.0\n", &["'load.0.mass_kg' is missing"]);
    lacks(
        "kind = \"free-weight\"\n",
        &["'load.0.kind' is missing", "shared-bar"],
    );
    refused_by_files("an empty sheet", "", good_csv(), &[SHEET, "'trial' is missing"]);
}

#[test]
fn cli_sheets_with_values_no_one_can_mean() {
    bad_sheet(
        "body_mass_kg = 63.5",
        "body_mass_kg = -63.5",
        &["'participant.body_mass_kg' is -63.5", "expected", "kg"],
    );
    bad_sheet(
        "body_mass_kg = 63.5",
        "body_mass_kg = 63500",
        &["'participant.body_mass_kg' is 63500", "400 kg"],
    );
    bad_sheet(
        "stature_m = 1.684",
        "stature_m = 168.4",
        &["'participant.stature_m' is 168.4", "2.8 m"],
    );
    bad_sheet(
        "mass_kg = 6.0",
        "mass_kg = -6.0",
        &["'load.0.mass_kg' is -6", "more than 0"],
    );
    bad_sheet(
        "mass_kg = 6.0",
        "mass_kg = 0",
        &["'load.0.mass_kg' is 0", "more than 0"],
    );
    bad_sheet(
        "mass_kg = 6.0",
        "mass_kg = 6000",
        &["'load.0.mass_kg' is 6000", "500 kg"],
    );
    bad_sheet(
        "gravity_m_s2 = 9.80665",
        "gravity_m_s2 = -9.8",
        &["'model.gravity_m_s2' is -9.8"],
    );
    bad_sheet(
        "forward = \"+y\"",
        "forward = \"-z\"",
        &["markers.up and markers.forward"],
    );
    bad_sheet(
        "forward = \"+y\"",
        "forward = [0, 0, 0]",
        &["markers.up and markers.forward"],
    );
    bad_sheet(
        "[0.031, 0.0087, 0.031]",
        "[0.031, 0.0087, 0.032]",
        &["equal first and third", "spin"],
    );
    bad_sheet(
        "[0.031, 0.0087, 0.031]",
        "[0.001, 0.0087, 0.001]",
        &["sum of the other two"],
    );
    bad_sheet(
        "[0.031, 0.0087, 0.031]",
        "[-0.031, 0.0087, -0.031]",
        &["not negative"],
    );
    bad_sheet(
        "at = [\"bell_in\", \"bell_out\"]",
        "at = { hand = [0, 0, 0] }",
        &["hand_m"],
    );
    bad_sheet(
        "at = [\"bell_in\", \"bell_out\"]",
        "at = { hand_m = [0, -80, 0] }",
        &["metres"],
    );
    bad_sheet(
        "cutoff_hz = \"none\"",
        "cutoff_hz = -6",
        &["'filter.cutoff_hz' is -6", "Hz"],
    );
    bad_sheet(
        "sides = [\"right\"]",
        "sides = [\"right\"]\nfrom_s = 0.4\nto_s = 0.2",
        &["'trial.to_s' is 0.2", "after from_s"],
    );
    bad_sheet(
        "side = \"right\"",
        "side = \"left\"",
        &["a load on the left arm", "trial.sides"],
    );
    let winter = curl_sheet(&[("\"deleva-1996\"", "\"dempster-winter\"")]);
    let line = line_of(&winter, "hand = ");
    refused_by_files(
        "a table without a hand",
        &winter,
        good_csv(),
        &[SHEET, &line, "model.hand", "dempster-winter", "lumped"],
    );
}

#[test]
fn cli_overrides_and_calibration_that_can_not_be() {
    let over = |text: &str, expected: &[&str]| {
        let sheet = curl_sheet(&[(
            "gravity_m_s2 = 9.80665",
            &format!("gravity_m_s2 = 9.80665\n{text}"),
        )]);
        refused_by_files(text, &sheet, good_csv(), expected);
    };
    over(
        "[model.override.right.forearm]\nmass_kg = -1",
        &[SHEET, "model.override.right.forearm.mass_kg", "-1"],
    );
    over(
        "[model.override.left.forearm]\nmass_kg = 1",
        &[SHEET, "left", "trial.sides"],
    );
    over(
        "[model.override.right.thigh]\nmass_kg = 1",
        &[SHEET, "thigh", "keys known here"],
    );
    over(
        "[model.override.right.hand]\nradii_of_gyration_fraction = { x = 0.9, y = 0.1, z = 0.2 }",
        &["hand", "larger than the sum"],
    );
    over(
        "[model.override.right.hand]\nradii_of_gyration_fraction = { x = 0.5, y = 0.3 }",
        &[SHEET, "radii_of_gyration_fraction.z"],
    );
    over(
        "[model.override.right.hand]\ninertia_kg_m2 = [[1, 0, 0], [0, 1, 0]]",
        &[SHEET, "inertia_kg_m2", "3x3"],
    );
    over(
        "[model.override.right.hand]\ninertia_kg_m2 = [[0.01, 0.02, 0], [0, 0.01, 0], [0, 0, 0.01]]",
        &["symmetric"],
    );
    over(
        "[model.override.right.hand]\ninertia_kg_m2 = [1e-3, 1e-3, 1e-3]\nradii_of_gyration_fraction = { x = 0.5, y = 0.3, z = 0.4 }",
        &[SHEET, "both"],
    );
    let calibrated = |clusters: &str, expected: &[&str]| {
        let sheet = curl_sheet(&[]) + &format!("\n[calibration]\nfile = \"{CSV}\"\nclusters = {clusters}\n");
        refused_by_files(clusters, &sheet, good_csv(), &[&[SHEET], expected].concat());
    };
    calibrated(
        "{ \"right.forearm\" = [\"RS\", \"US\"] }",
        &["2 markers", "at least three"],
    );
    calibrated(
        "{ \"right.foreram\" = [\"bell_in\", \"bell_out\", \"C7\"] }",
        &["right.foreram", "did you mean", "right.forearm"],
    );
    calibrated(
        "{ \"right.forearm\" = [\"bell_in\", \"bell_ou\", \"C7\"] }",
        &["'bell_ou'", "did you mean 'bell_out'"],
    );
    calibrated(
        "{ \"right.forearm\" = [\"bell_in\", \"bell_out\", \"bell_in\"] }",
        &["right.forearm", "one line"],
    );
}

#[test]
fn cli_points_and_lengths_that_do_not_fit() {
    let s = curl_sheet(&[]);
    let csv = |m: Markers| m.first(60).csv();
    refused_by_files(
        "a landmark that is never visible",
        &s,
        csv(Markers::curl().lost("EM", 0..60)),
        &[CSV, "right.EM", "never visible", "60"],
    );
    refused_by_files(
        "a load's marker that is never visible",
        &s,
        csv(Markers::curl().lost("bell_in", 0..60)),
        &[CSV, "bell_in", "never visible"],
    );
    refused_by_files(
        "no elbow",
        &s,
        csv(Markers::curl().without(&["EM"])),
        &[
            CSV,
            "right elbow centre",
            "right.EL and right.EM, or right.EJC",
            "right.EL",
        ],
    );
    refused_by_files(
        "no wrist",
        &s,
        csv(Markers::curl().without(&["RS", "US"])),
        &["right wrist centre", "right.WJC"],
    );
    refused_by_files(
        "no shoulder",
        &s,
        csv(Markers::curl().without(&["SJC"])),
        &["right shoulder centre", "right.SJC or right.GH"],
    );
    let unnamed = curl_sheet(&[("shoulder_centre = { method = \"given\" }\n", "")]);
    refused_by_files(
        "no shoulder and no method",
        &unnamed,
        csv(Markers::curl().without(&["SJC"])),
        &["right shoulder centre", "below-acromion"],
    );
    let below = curl_sheet(&[(
        "{ method = \"given\" }",
        "{ method = \"below-acromion\", drop_m = 0.03 }",
    )]);
    refused_by_files("no acromion", &below, good_csv(), &["right.AC"]);
    let both = curl_sheet(&[(
        "{ method = \"given\" }",
        "{ method = \"below-acromion\", drop_m = 0.03, drop_fraction = 0.17 }",
    )]);
    refused_by_files(
        "two drops",
        &both,
        good_csv(),
        &[SHEET, "both drop_m and drop_fraction"],
    );
    let no_drop = curl_sheet(&[("{ method = \"given\" }", "{ method = \"below-acromion\" }")]);
    refused_by_files("no drop", &no_drop, good_csv(), &[SHEET, "drop_m", "0.17"]);
    let left = curl_sheet(&[("\"right\"", "\"left\"")]);
    refused_by_files(
        "the other arm",
        &left,
        csv(Markers::curl().renamed(|n| {
            if n.len() < 5 {
                format!("right.{n}")
            } else {
                n.into()
            }
        })),
        &["left", "right", "trial.sides"],
    );
    refused_by_files(
        "a load's marker that is not there",
        &curl_sheet(&[("\"bell_in\"", "\"bel_in\"")]),
        good_csv(),
        &[SHEET, "line", "'bel_in'", "did you mean 'bell_in'"],
    );
    let rename = curl_sheet(&[(
        "forward = \"+y\"",
        "forward = \"+y\"\n[markers.rename]\nelbow_outre = \"EL\"",
    )]);
    refused_by_files(
        "a rename of nothing",
        &rename,
        good_csv().replace("EL_", "elbow_outer_"),
        &[
            SHEET,
            &line_of(&rename, "outre"),
            "'elbow_outre'",
            "did you mean 'elbow_outer'",
        ],
    );
    for (unit, length) in [("m", "272.5"), ("cm", "2.725"), ("um", "0.0003")] {
        let sheet = curl_sheet(&[("\"mm\"", &format!("\"{unit}\""))]);
        let line = line_of(&sheet, "length_unit");
        refused_by_files(
            "wrong unit",
            &sheet,
            good_csv(),
            &[
                SHEET,
                &line,
                "upper arm",
                length,
                &format!("length_unit = \"{unit}\""),
                "expected 0.1 to 0.6 m",
            ],
        );
    }
    let short_hand = Markers::curl().moved(|p| p);
    let knuckles: Vec<[f64; 3]> = short_hand
        .of("RS")
        .iter()
        .zip(short_hand.of("US"))
        .map(|(a, b)| [0, 1, 2].map(|k| 0.5 * (a[k] + b[k]) + 5.0))
        .collect();
    let mut short_hand = short_hand;
    for (n, p) in &mut short_hand.points {
        if n == "MCP2" || n == "MCP5" {
            let shift = if n == "MCP2" { 20.0 } else { -20.0 };
            *p = knuckles.iter().map(|k| [k[0] + shift, k[1], k[2]]).collect();
        }
    }
    refused_by_files(
        "a hand of a centimetre",
        &s,
        csv(short_hand),
        &["hand", "expected 0.04 to 0.25 m"],
    );
    let lumped = curl_sheet(&[("\"segment\"", "\"lumped\""), ("stature_m = 1.684\n", "")]);
    refused_by_files(
        "a lumped hand without stature",
        &lumped,
        good_csv(),
        &[SHEET, "participant.stature_m", "hand"],
    );
}

#[test]
fn cli_recordings_too_short() {
    let csv = |frames: usize| Markers::curl().first(frames).csv();
    let smoothed = curl_sheet(&[("\"none\"", "6")]);
    refused_by_files(
        "nine frames to smooth",
        &smoothed,
        csv(9),
        &[
            CSV,
            "9 frames",
            "0.090 s",
            "at least 10 frames",
            "0.100 s",
            "smooth",
        ],
    );
    refused_by_files(
        "five frames without smoothing",
        &curl_sheet(&[]),
        csv(5),
        &[CSV, "5 frames", "at least 6 frames", "accelerations"],
    );
    let torn = (0..60)
        .step_by(9)
        .fold(Markers::curl().first(60), |m, f| m.lost("US", f..f + 1));
    let no_filling = curl_sheet(&[("\"none\"", "6\nmax_gap_s = 0")]);
    refused_by_files(
        "stretches of eight frames",
        &no_filling,
        torn.csv(),
        &[CSV, "8 frames", "at least 10 frames"],
    );
    refused_by_files(
        "cutoff above half the rate",
        &curl_sheet(&[("\"none\"", "50")]),
        csv(60),
        &["50 Hz", "half the sampling rate", "100 Hz"],
    );
    let late = curl_sheet(&[("sides = [\"right\"]", "sides = [\"right\"]\nfrom_s = 5")]);
    refused_by_files(
        "a window after the end",
        &late,
        csv(60),
        &[SHEET, "from_s", "0.590"],
    );
}

#[test]
fn cli_set_assignments_that_can_not_be() {
    let s = curl_sheet(&[]);
    for (set, expected) in [
        ("filter.cutoff_hz", vec!["--set filter.cutoff_hz", "no '='"]),
        ("=6", vec!["--set =6", "empty"]),
        ("filter..cutoff_hz=6", vec!["empty"]),
        (
            "filter.cutof_hz=6",
            vec!["--set", "unknown key 'filter.cutof_hz'", "cutoff_hz"],
        ),
        ("load.3.mass_kg=6", vec!["--set", "'3'", "list of 1"]),
        ("load.first.mass_kg=6", vec!["'first'", "counted from 0"]),
        (
            "participant.body_mass_kg=heavy",
            vec!["--set", "the text \"heavy\"", "a finite number"],
        ),
        (
            "participant.body_mass_kg.x=1",
            vec!["--set", "'x'", "the number 63.5"],
        ),
        (
            "load.0.mass_kg=-2",
            vec!["--set load.0.mass_kg=-2", "'load.0.mass_kg' is -2"],
        ),
        ("trial.sides=[\"left\"", vec!["trial.sides", "a list of texts"]),
    ] {
        refused(set, &s, good_csv(), &[set], &expected);
    }
}

#[test]
fn cli_hints_say_what_to_write_and_where() {
    for (edit, expected) in [
        (
            ("body_mass_kg = 63.5\n", ""),
            "add a line `body_mass_kg = ...` under [participant]",
        ),
        (("body_mass_kg = 63.5", "body_mass_kg = \"63,5\""), "write 63.5"),
        (
            ("body_mass_kg = 63.5", "body_mass_kg = \"63.5 kg\""),
            "write 63.5: without quotes",
        ),
        (
            ("body_mass_kg = 63.5", "body_mass_kg = \"140 lb\""),
            "convert to that",
        ),
        (("stature_m = 1.684", "stature_m = \"168 cm\""), "convert to that"),
        (("cutoff_hz = \"none\"", "cutoff_hz = \"6,5\""), "write 6.5"),
        (("sex = \"female\"", "sex = \"f\""), "did you mean \"female\"?"),
        (
            (
                "shoulder_centre = { method = \"given\" }",
                "shoulder_centre = \"given\"",
            ),
            "shoulder_centre = { method = \"given\" }",
        ),
        (
            (
                "shoulder_centre = { method = \"given\" }",
                "elbow_centre = { method = \"half-width\" }",
            ),
            "add `half_width_m = ...` to `elbow_centre = { ... }` under [model]",
        ),
        (
            (
                "[[load]]",
                "[calibration]\nclusters = { forarm = [\"a\", \"b\", \"c\"] }\n[[load]]",
            ),
            "did you mean \"right.forearm\"?",
        ),
        (
            (
                "[[load]]",
                "[calibration]\nclusters = { forearm = [\"a\", \"b\"] }\n[[load]]",
            ),
            "name a third",
        ),
        (
            (
                "[[load]]",
                "[calibration]\nclusters = { \"right.forarm\" = [\"a\", \"b\", \"c\"] }\n[[load]]",
            ),
            "did you mean \"right.forearm\"?",
        ),
        (
            (
                "shoulder_centre = { method = \"given\" }",
                "shoulder_centre = \"functional\"",
            ),
            "write it as a table: shoulder_centre = { method = \"functional\" }",
        ),
        (
            ("[filter]", "scale = 824\n[filter]"),
            "scale = { length_px = 412.0, length_m = 0.50 }",
        ),
        (
            ("at = [\"bell_in\", \"bell_out\"]", "at = {}"),
            "add `hand_m = ...` to `at = { ... }` under [[load]] number 1",
        ),
        (
            (
                "[filter]",
                "[model.override.right.forearm]\nradii_of_gyration_fraction = { x = 0.3 }\n[filter]",
            ),
            "add `y = ...` to `radii_of_gyration_fraction = { ... }` under [model.override.right.forearm]",
        ),
        (
            ("[filter]", "[markers.rename]\nGT = \"GH\"\n[filter]"),
            "[calibration] with its file first",
        ),
    ] {
        let e = match run(&curl_sheet(&[edit]), &Markers::curl().csv()) {
            Ok(_) => panic!("{edit:?} ran"),
            Err(e) => e,
        };
        assert!(
            e.text.contains(expected),
            "{edit:?}: '{expected}' is not in\n{}",
            e.text
        );
    }
}
