//! Rows above the numbers as people's programs write them: names, axes, units, a rate, each in a row of its own or not,
//! in any order; units in names; decimal commas. Read back as the plain table, or refused with what was seen.

use super::{read, read_text, refusal, same, write};
use armload::capture::header::Layout;
use armload::capture::points::MarkerReading;
use armload::capture::{NumberTable, Recording};
use armload::ground::names::Side;
use proptest::prelude::*;
use std::collections::BTreeMap;

const PLAIN: &str = "time_s,EL_x,EL_y,EL_z,EM_x,EM_y,EM_z
0.00,1,2,3,4,5,6
0.01,1.5,2.5,3.5,,,
0.02,2,3,4,5,6,7
";
const ROWS: &str = "0.00,1,2,3,4,5,6
0.01,1.5,2.5,3.5,,,
0.02,2,3,4,5,6,7
";

#[test]
fn cross_names_axes_units_and_a_rate_in_rows_of_their_own() {
    let plain = read_text("plain.csv", PLAIN).unwrap();
    for (what, header) in [
        ("axes below names given once", "time_s,EL,,,EM,,\n,x,y,z,x,y,z\n"),
        (
            "axes below names given each time",
            "time_s,EL,EL,EL,EM,EM,EM\n,X,Y,Z,X,Y,Z\n",
        ),
        (
            "the time has its name in the row of axes",
            ",EL,,,EM,,\nTime_s,x,y,z,x,y,z\n",
        ),
        (
            "units below",
            "time_s,EL,,,EM,,\n,x,y,z,x,y,z\ns,mm,mm,mm,mm,mm,mm\n",
        ),
        (
            "units above",
            "(s),(mm),(mm),(mm),(mm),(mm),(mm)\ntime_s,EL,,,EM,,\n,x,y,z,x,y,z\n",
        ),
        (
            "units below names with axes",
            "time,EL_x,EL_y,EL_z,EM_x,EM_y,EM_z\ns,mm,mm,mm,mm,mm,mm\n",
        ),
        (
            "units in the row of axes",
            "time_s,EL,,,EM,,\n,X (mm),Y (mm),Z (mm),X (mm),Y (mm),Z (mm)\n",
        ),
        (
            "a title, a rate, a blank line",
            "Curl with the right arm\n\nRate,100\ntime_s,EL,,,EM,,\n,x,y,z,x,y,z\n",
        ),
        (
            "a comment between",
            "# first\ntime_s,EL,,,EM,,\n# second\n,x,y,z,x,y,z\n",
        ),
        ("byte order mark", "\u{feff}time_s,EL,,,EM,,\n,x,y,z,x,y,z\n"),
    ] {
        let table =
            read_text("rows.csv", &format!("{header}{ROWS}")).unwrap_or_else(|e| panic!("{what}: {e}"));
        let names: Vec<String> = table.names.iter().map(|n| n.to_lowercase()).collect();
        let expected: Vec<String> = plain.names.iter().map(|n| n.to_lowercase()).collect();
        let time = names[0] == "time" && expected[0] == "time_s";
        assert!(
            names[1..] == expected[1..] && (time || names[0] == expected[0]),
            "{what}: {names:?}"
        );
        for c in 0..names.len() {
            let (a, b) = (plain.column(c), table.column(c));
            assert!(
                a.iter().zip(&b).all(|(a, b)| a == b || a.is_nan() && b.is_nan()),
                "{what}: {b:?}"
            );
        }
        let told: Vec<String> = table.notes.iter().map(ToString::to_string).collect();
        assert!(
            told.iter().any(|t| t.contains("names in line")),
            "{what}: {told:?}"
        );
        if header.contains("mm") {
            assert_eq!(
                table.stated.length_unit.as_ref().map(|u| u.0.as_str()),
                Some("mm"),
                "{what}"
            );
        }
    }
}

/// One arm's recording of a text.
fn recording(text: &str, rate_hz: Option<f64>, layout: Layout) -> Result<Recording, String> {
    let dir = tempfile::tempdir().unwrap();
    let path = write(dir.path(), "m.csv", text);
    let rename = BTreeMap::new();
    let how = MarkerReading {
        layout,
        rename: &rename,
        sides: &[Side::Right],
        rate_hz,
        max_gap_s: 0.1,
        claims: None,
    };
    Recording::read(&path, &how, &mut Vec::new()).map_err(|e| e.to_string())
}

#[test]
fn cross_a_rate_on_a_line_of_its_own_is_that_of_a_file_without_times() {
    let rows = "1,2,3\n1,2,4\n1,2,5\n";
    for line in [
        "Rate,200",
        "Sampling frequency (Hz),200",
        "200 Hz",
        "200",
        "frame rate:,200,Hz",
    ] {
        let text = format!("{line}\nEL,,\nx,y,z\n{rows}");
        let read = recording(&text, None, Layout::default()).unwrap_or_else(|e| panic!("{line}: {e}"));
        assert_eq!((read.time.rate_hz, read.time.frames), (200.0, 3), "{line}");
        // a sheet that says otherwise is held against it
        let error = recording(&text, Some(100.0), Layout::default()).err().unwrap();
        assert!(error.contains("200") && error.contains("100"), "{line}: {error}");
    }
    // and no other number is
    let text = format!("Frames,200\nEL,,\nx,y,z\n{rows}");
    let error = recording(&text, None, Layout::default()).err().unwrap();
    assert!(error.contains("time"), "{error}");
}

#[test]
fn cross_units_in_names_of_columns() {
    let plain = read_text("plain.csv", PLAIN).unwrap();
    for (header, unit) in [
        (
            "time (s),EL_x (mm),EL_y (mm),EL_z (mm),EM_x (mm),EM_y (mm),EM_z (mm)",
            "mm",
        ),
        (
            "Time [s],EL_x [mm],EL_y [mm],EL_z [mm],EM_x [mm],EM_y [mm],EM_z [mm]",
            "mm",
        ),
        ("t_s,EL_x_mm,EL_y_mm,EL_z_mm,EM_x_mm,EM_y_mm,EM_z_mm", "mm"),
        ("t (s),EL_x_MM,EL_y_MM,EL_z_MM,EM_x_MM,EM_y_MM,EM_z_MM", "mm"),
    ] {
        let table = read_text("units.csv", &format!("{header}\n{ROWS}")).unwrap();
        same(&plain, &table);
        assert_eq!(table.stated.length_unit.as_ref().unwrap().0, unit, "{header}");
    }
    // points in a picture
    let table = read_text(
        "p.csv",
        "time_s,Shoulder x (px),Shoulder y (px)\n0,1,2\n0.01,3,4\n",
    )
    .unwrap();
    assert_eq!(table.names, ["time_s", "Shoulder x", "Shoulder y"]);
    assert_eq!(table.stated.length_unit.as_ref().unwrap().0, "px");
    // times in other units
    for (name, scale) in [
        ("time_ms", 1e3),
        ("Time (ms)", 1e3),
        ("t [us]", 1e6),
        ("time (msec)", 1e3),
    ] {
        let rows: String = [0.0, 0.01, 0.02]
            .iter()
            .map(|t| format!("{},1,2,3\n", t * scale))
            .collect();
        let table = read_text("ms.csv", &format!("{name},EL_x,EL_y,EL_z\n{rows}")).unwrap();
        assert_eq!(table.names[0], "time_s", "{name}");
        let t = table.column(0);
        assert!(
            t.iter()
                .zip([0.0, 0.01, 0.02])
                .all(|(a, b)| (a - b).abs() < 1e-12),
            "{name}: {t:?}"
        );
    }
    // two units in one file
    let (message, _) = refusal(
        "two.csv",
        "time_s,EL_x (mm),EL_y (mm),EL_z (m)\n0,1,2,3\n0.1,1,2,3\n",
    );
    assert!(message.contains("m here and in mm"), "{message}");
    // names that only look alike are left alone
    let table = read_text("in.csv", "time_s,band_in,EL_x,EL_y,EL_z\n0,9,1,2,3\n").unwrap();
    assert_eq!(table.names[1], "band_in");
}

#[test]
fn cross_decimal_commas_with_another_delimiter() {
    let plain = read_text("plain.csv", PLAIN).unwrap();
    for delimiter in [";", "\t"] {
        let text = PLAIN.replace(',', delimiter).replace('.', ",");
        let table = read_text("comma.csv", &text).unwrap();
        same(&plain, &table);
        assert_eq!(table.time_decimals(), 2);
        assert!(
            table
                .notes
                .iter()
                .any(|n| n.to_string().contains("decimal commas"))
        );
    }
    // long, and packed
    let long = "time_s;point;x;y;z\n0,00;EL;1,5;2;3\n0,01;EL;1,25;2;3\n";
    let table = read_text("long.csv", long).unwrap();
    assert_eq!(table.column(1), [1.5, 1.25]);
    let dir = tempfile::tempdir().unwrap();
    let packed = write(dir.path(), "long.csv.gz", super::gzip(long.as_bytes()));
    same(&table, &read(&packed).unwrap());
    // a slip in it keeps its place
    let text = PLAIN.replace(',', ";").replace('.', ",").replace("2,5", "2,5x");
    let (message, _) = refusal("slip.csv", &text);
    assert!(message.contains("line 3, column 3 (EL_y)"), "{message}");
}

#[test]
fn cli_rows_that_can_not_be_told_apart_are_refused_with_what_was_seen() {
    let text = format!("time_s,EL,,,EM,,\nwhen,inner,,,outer,,\nwhat,A,,,B,,\n,x,y,z,x,y,z\n{ROWS}");
    let (message, hint) = refusal("two.csv", &text);
    assert!(
        message
            .contains("line 1: could be names, line 2: could be names, line 3: could be names, line 4: axes"),
        "{message}"
    );
    assert!(hint.unwrap().contains("names_row"));
    let stated = |header_rows, names_row| {
        let dir = tempfile::tempdir().unwrap();
        let path = write(dir.path(), "m.csv", &text);
        NumberTable::read_laid_out(
            &path,
            "m.csv",
            Layout {
                header_rows,
                names_row,
            },
        )
        .map_err(|e| e.to_string())
    };
    let table = stated(None, Some(1)).unwrap();
    assert_eq!(table.names, read_text("plain.csv", PLAIN).unwrap().names);
    assert_eq!(stated(Some(4), Some(2)).unwrap().names[1], "inner_x");
    assert!(
        stated(Some(4), Some(9))
            .err()
            .unwrap()
            .contains("line 9 (markers.names_row)")
    );
    // more rows than there are
    assert!(stated(Some(50), Some(1)).is_err());
    // no axes anywhere
    let (message, _) = refusal(
        "none.csv",
        &format!("time_s,EL,,,EM,,\ns,mm,mm,mm,mm,mm,mm\n{ROWS}"),
    );
    assert!(
        message.contains("no row says which column is x, y, z"),
        "{message}"
    );
    // an axis without a name
    let (message, _) = refusal("bare.csv", &format!("time_s,,,,EM,,\n,x,y,z,x,y,z\n{ROWS}"));
    assert!(
        message.contains("line 1, column 2") && message.contains("no name stands over it"),
        "{message}"
    );
}

/// A cell of a header, or of a slip.
fn any_cell() -> impl Strategy<Value = String> {
    prop_oneof![
        Just(String::new()),
        Just("x".to_owned()),
        Just("mm".to_owned()),
        Just("200".to_owned()),
        Just("1,5".to_owned()),
        "[a-zA-Z_ ()\\[\\]0-9.;\"]{0,8}",
    ]
}

proptest! {
    /// Any order of the rows, with and without units, a rate, a remark, any number of points.
    #[test]
    fn property_any_layout_gives_the_numbers_back(
        points in 2_usize..5,
        units: bool,
        rate: bool,
        remark: bool,
        order in Just(vec![0, 1, 2, 3, 4]).prop_shuffle(),
        delimiter in prop_oneof![Just(","), Just(";"), Just("\t")],
        comma: bool,
        numbers in prop::collection::vec(-999_i32..999, 4 * 15),
    ) {
        let width = 1 + 3 * points;
        let names: Vec<String> = (0..width)
            .map(|c| match c { 0 => "time_s".to_owned(), c if c % 3 == 1 => format!("P{}", c / 3), _ => String::new() })
            .collect();
        let axes: Vec<&str> = (0..width).map(|c| if c == 0 { "" } else { ["x", "y", "z"][(c - 1) % 3] }).collect();
        let row_of_units: Vec<&str> = (0..width).map(|c| if c == 0 { "s" } else { "mm" }).collect();
        let rows = [
            Some(names.join(delimiter)),
            Some(axes.join(delimiter)),
            units.then(|| row_of_units.join(delimiter)),
            rate.then(|| format!("Rate{delimiter}100")),
            remark.then(|| "A remark on the day".to_owned()),
        ];
        // names stand above their axes
        let mut order = order;
        let (n, a) = (order.iter().position(|o| *o == 0).unwrap(), order.iter().position(|o| *o == 1).unwrap());
        if n > a { order.swap(n, a); }
        let mut text: String = order.iter().filter_map(|o| rows[*o].clone()).map(|r| r + "\n").collect();
        let value = |f: usize, c: usize| f64::from(numbers[(f * 15 + c) % numbers.len()]) / 8.0;
        for f in 0..4 {
            let mut cells = vec![format!("{:.2}", f as f64 * 0.01)];
            cells.extend((1..width).map(|c| format!("{:.3}", value(f, c))));
            let line = cells.join(delimiter);
            text += &if comma && delimiter != "," { line.replace('.', ",") } else { line };
            text.push('\n');
        }
        let table = read_text("any.csv", &text).map_err(|e| TestCaseError::fail(format!("{e}\n{text}")))?;
        prop_assert_eq!(table.names.len(), width);
        for c in 1..width {
            prop_assert_eq!(&table.names[c], &format!("P{}_{}", (c - 1) / 3, ["x", "y", "z"][(c - 1) % 3]));
            let column = table.column(c);
            for (f, found) in column.iter().enumerate() {
                prop_assert_eq!(*found, value(f, c));
            }
        }
        prop_assert_eq!(table.stated.rate_hz.as_ref().map(|r| r.0), rate.then_some(100.0));
    }

    /// Whatever stands above the numbers, the answer is a table or a refusal with a place.
    #[test]
    fn property_any_header_is_read_or_refused(
        header in prop::collection::vec(prop::collection::vec(any_cell(), 1..8), 0..6),
        header_rows in prop::option::of(1_usize..8),
        names_row in prop::option::of(1_usize..8),
    ) {
        let mut text: String = header.iter().map(|r| r.join(",") + "\n").collect();
        text += "0.00,1,2,3\n0.01,1,2,3\n";
        let dir = tempfile::tempdir().unwrap();
        let path = write(dir.path(), "m.csv", &text);
        if let Err(e) = NumberTable::read_laid_out(&path, "m.csv", Layout { header_rows, names_row }) {
            prop_assert!(e.to_string().contains("m.csv"));
        }
    }
}
