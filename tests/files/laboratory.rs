//! Recordings and loads as laboratories and gyms have them: force platforms and channels inside a C3D file,
//! pictures in pixels, results as a BIDS derivative.

use super::*;
use crate::common::Cells;
use std::f64::consts::TAU;
use std::fmt::Write as _;

/// What 32-bit reals of a C3D file leave of a result, relative to its largest value.
const READ_REL: f64 = 1e-6;
/// Two results printed with six decimals differ by this much if they are the same.
const PRINTED: f64 = 1.5e-6;

fn run(args: &[&str]) -> (i32, String, String) {
    let out = armload(args);
    (
        out.status.code().unwrap_or(-1),
        text(&out.stdout),
        text(&out.stderr),
    )
}

/// Runs a sheet that has to be good and reads its table.
fn moments(dir: &Path, sheet: &str, more: &[&str]) -> Cells {
    let (sheet, out) = (dir.join(sheet), dir.join(format!("{sheet}-out")));
    let mut args = vec![
        "moments",
        sheet.to_str().unwrap(),
        "--no-plots",
        "--out",
        out.to_str().unwrap(),
    ];
    args.extend(more);
    let (status, _, message) = run(&args);
    assert_eq!(status, 0, "{message}");
    Cells::read(&out.join("moments.csv"))
}

/// Runs a sheet that has to be refused; message and hint in one line.
fn refused(dir: &Path, sheet: &str) -> String {
    let (status, _, message) = run(&[
        "moments",
        write(dir, "refused.toml", sheet).to_str().unwrap(),
        "--no-plots",
    ]);
    assert_eq!(status, 1, "{message}");
    message.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Same columns, same missing cells, same numbers.
fn same_results(a: &Cells, b: &Cells, relative: f64) {
    assert_eq!(a.names, b.names);
    for name in &a.names {
        if name.ends_with("phase") || name == "quality" {
            assert_eq!(a.text(name), b.text(name), "{name}");
            continue;
        }
        let (x, y) = (a.numbers(name), b.numbers(name));
        let peak = y.iter().fold(0.0, |m: f64, v| m.max(v.abs()));
        for (i, (x, y)) in x.iter().zip(&y).enumerate() {
            let same = x.is_nan() && y.is_nan() || (x - y).abs() <= PRINTED + relative * peak;
            assert!(same, "{name} row {i}: {x} {y}, peak {peak}");
        }
    }
}

mod c3d_forces {
    use super::*;
    use nalgebra::{Matrix3, Vector3};

    const FRAMES: usize = 80;
    const POINTS: usize = 11;
    const SAMPLES: usize = 5;
    /// Reals of one frame: eleven points of four, six channels of five samples.
    const FRAME_BYTES: usize = 4 * (4 * POINTS + 6 * SAMPLES);

    const SHEET: &str = "[trial]\nid = \"handle\"\nsides = [\"right\"]\n[participant]\nsex = \"female\"\nbody_mass_kg = 63.5\nstature_m = 1.684\n\
        [markers]\nfile = \"MARKERS\"\nlength_unit = \"mm\"\nup = \"+z\"\nforward = \"+y\"\n[filter]\ncutoff_hz = \"none\"\n[[load]]\nkind = \"recorded-force\"\n";

    fn sheet(markers: &str, load: &str) -> String {
        format!("{}{load}\n", SHEET.replace("MARKERS", markers))
    }

    fn arm_and_handle() -> Vec<u8> {
        std::fs::read(fixture("c3d/arm_and_handle.c3d")).unwrap()
    }

    /// The same markers as a table: the engine's curl, frames 11 to 90, as 32-bit reals keep them.
    fn markers() -> String {
        let csv = std::fs::read_to_string(fixture("engine/curl_markers.csv")).unwrap();
        let mut out = String::new();
        for (i, line) in csv
            .lines()
            .enumerate()
            .filter(|(i, _)| *i == 0 || (11..11 + FRAMES).contains(i))
        {
            let cells: Vec<String> = line
                .split(',')
                .enumerate()
                .map(|(c, cell)| {
                    if i == 0 || c == 0 {
                        cell.to_owned()
                    } else {
                        f64::from(cell.parse::<f32>().unwrap()).to_string()
                    }
                })
                .collect();
            out += &(cells.join(",") + "\n");
        }
        out
    }

    fn times() -> impl Iterator<Item = f64> {
        (0..FRAMES * SAMPLES).map(|i| 0.1 + i as f64 / 500.0)
    }

    /// What the hand does to the handle, lab axes: the formulas of the fixture's script.
    fn loads(t: f64) -> (Vector3<f64>, Vector3<f64>) {
        let w = TAU * t;
        let force = Vector3::new(
            20.0 * (1.1 * w).sin(),
            -15.0 + 5.0 * (0.7 * w).cos(),
            -60.0 - 10.0 * (0.9 * w).sin(),
        );
        let moment = Vector3::new(
            0.8 * (0.6 * w).sin(),
            -0.5 + 0.2 * (1.3 * w).cos(),
            0.3 * (0.8 * w).sin(),
        );
        (force, moment)
    }

    fn table(header: &str, row: impl Fn(f64) -> Vec<f64>) -> String {
        let mut out = format!("{header}\n");
        for t in times() {
            let cells: Vec<String> = row(t).iter().map(f64::to_string).collect();
            writeln!(out, "{t:.3},{}", cells.join(",")).unwrap();
        }
        out
    }

    fn folder() -> tempfile::TempDir {
        let dir = tempfile::tempdir().unwrap();
        write(dir.path(), "trial.c3d", arm_and_handle());
        write(
            dir.path(),
            "two.c3d",
            std::fs::read(fixture("c3d/two_platforms.c3d")).unwrap(),
        );
        write(dir.path(), "markers.csv", markers());
        let row = |t| {
            let (f, m) = loads(t);
            vec![f.x, f.y, f.z, m.x, m.y, m.z, -40.0, 600.0, 980.0]
        };
        write(
            dir.path(),
            "handle.csv",
            table("time_s,fx,fy,fz,mx,my,mz,px,py,pz", row),
        );
        dir
    }

    /// The file is made by a writer of its own and read back by `c3d` and `ezc3d` (fixtures/c3d/make_c3d.py).
    #[test]
    fn engine_an_arm_and_a_handle_in_one_c3d_file_give_the_moments_of_the_same_tables() {
        let dir = folder();
        let of_csv = "file = \"handle.csv\"\nresolved_in = \"lab\"\nforce_on = \"instrument\"";
        write(dir.path(), "csv.toml", sheet("markers.csv", of_csv));
        let expected = moments(dir.path(), "csv.toml", &[]);
        let moment = expected.numbers("right.elbow.flexion_moment_n_m");
        assert!(
            moment.len() == FRAMES
                && moment.iter().all(|m| m.is_finite())
                && moment.iter().any(|m| m.abs() > 10.0),
            "{moment:?}"
        );
        for (name, load) in [
            ("only", "file = \"trial.c3d\"\nforce_on = \"instrument\""),
            (
                "first",
                "file = \"trial.c3d\"\nplatform = 1\nresolved_in = \"lab\"\nforce_on = \"instrument\"",
            ),
        ] {
            let name = format!("{name}.toml");
            write(dir.path(), &name, sheet("trial.c3d", load));
            same_results(&moments(dir.path(), &name, &[]), &expected, READ_REL);
        }
        // markers in mm here, the platform's own unit there: each file's unit is its own
        write(
            dir.path(),
            "mixed.toml",
            sheet("metres.csv", "file = \"trial.c3d\"\nforce_on = \"instrument\"").replace("\"mm\"", "\"m\""),
        );
        let metres: String = markers()
            .lines()
            .enumerate()
            .map(|(i, line)| {
                let cell = |(c, x): (usize, &str)| {
                    if i == 0 || c == 0 {
                        x.to_owned()
                    } else {
                        (x.parse::<f64>().unwrap() / 1e3).to_string()
                    }
                };
                line.split(',')
                    .enumerate()
                    .map(cell)
                    .collect::<Vec<_>>()
                    .join(",")
                    + "\n"
            })
            .collect();
        write(dir.path(), "metres.csv", metres);
        same_results(&moments(dir.path(), "mixed.toml", &[]), &expected, READ_REL);
        // packed
        write(dir.path(), "trial.c3d.gz", gzip(&arm_and_handle()));
        write(
            dir.path(),
            "packed.toml",
            sheet(
                "trial.c3d.gz",
                "file = \"trial.c3d.gz\"\nforce_on = \"instrument\"",
            ),
        );
        same_results(&moments(dir.path(), "packed.toml", &[]), &expected, READ_REL);
    }

    #[test]
    fn cross_channels_of_a_c3d_file_are_a_force_file() {
        let dir = folder();
        // axes and origin of the fixture's platform
        let r = Matrix3::new(2.0, -1.0, 2.0, 2.0, 2.0, -1.0, -1.0, 2.0, 2.0) / 3.0;
        let o = Vector3::new(0.001, -0.002, -0.015);
        let row = |t| {
            let (f, m) = loads(t);
            let f = r.transpose() * f;
            let m = r.transpose() * m + o.cross(&f);
            vec![f.x, f.y, f.z, m.x, m.y, m.z]
        };
        write(dir.path(), "raw.csv", table("time_s,fx,fy,fz,mx,my,mz", row));
        write(
            dir.path(),
            "raw3.csv",
            table("time_s,fx,fy,fz", |t| row(t)[..3].to_vec()),
        );
        for (channels, file) in [
            ("[\"Fx\", \"Fy\", \"Fz\", \"Mx\", \"My\", \"Mz\"]", "raw.csv"),
            ("[\"Fx\", \"Fy\", \"Fz\"]", "raw3.csv"),
        ] {
            let rest =
                "resolved_in = \"hand\"\nforce_on = \"instrument\"\nat = { hand_m = [0.01, -0.08, 0.0] }";
            write(
                dir.path(),
                "csv.toml",
                sheet("trial.c3d", &format!("file = \"{file}\"\n{rest}")),
            );
            write(
                dir.path(),
                "c3d.toml",
                sheet(
                    "trial.c3d",
                    &format!("file = \"trial.c3d\"\nchannels = {channels}\n{rest}"),
                ),
            );
            same_results(
                &moments(dir.path(), "c3d.toml", &[]),
                &moments(dir.path(), "csv.toml", &[]),
                READ_REL,
            );
        }
    }

    #[test]
    fn cli_inspect_and_sheet_know_a_c3d_file_with_a_platform() {
        let dir = folder();
        let at = dir.path().join("trial.c3d");
        write(
            dir.path(),
            "s.toml",
            sheet("trial.c3d", "file = \"trial.c3d\"\nforce_on = \"instrument\""),
        );
        let (status, out, message) = run(&["inspect", dir.path().join("s.toml").to_str().unwrap()]);
        assert!(
            status == 0 && out.contains("80 frames from 0.100 to 0.890 s at 100 Hz"),
            "{out}{message}"
        );
        assert!(out.contains("500"), "the platform's own rate: {out}");
        let (status, out, message) = run(&["inspect", at.to_str().unwrap()]);
        assert!(status == 0 && out.contains("noise mm"), "{out}{message}");
        for line in [
            "Force platforms, counted from 1: 1 (type 2; Fx, Fy, Fz, Mx, My, Mz).",
            "Analog channels at 500 Hz: Fx (N), Fy (N), Fz (N), Mx (Nmm), My (Nmm), Mz (Nmm).",
            "Names without a side are assumed to be of the right arm: SJC, EL, EM, RS, US, MCP2, MCP5.",
        ] {
            assert!(out.contains(line), "{line}\n{out}");
        }
        let (_, starter, _) = run(&["sheet", at.to_str().unwrap(), "--side", "right"]);
        for line in [
            "length_unit = \"mm\"  # as the file says",
            "# platform = 1",
            "# force_on = \"instrument\"",
            "counted from 1: 1 (type 2; Fx, Fy",
            "analog channels in the file: Fx (N), Fy (N)",
        ] {
            assert!(starter.contains(line), "{line}\n{starter}");
        }
        toml::from_str::<toml::Table>(&starter).unwrap();
    }

    /// A copy of the file in which some analog samples are no numbers.
    fn with_lost_samples(frames: std::ops::Range<usize>) -> Vec<u8> {
        let mut b = arm_and_handle();
        let data = (usize::from(u16::from_le_bytes([b[16], b[17]])) - 1) * 512;
        for f in frames {
            let from = data + f * FRAME_BYTES + 16 * POINTS;
            b[from..data + (f + 1) * FRAME_BYTES].fill(0xff);
        }
        b
    }

    #[test]
    fn property_lost_samples_and_a_cut_off_file_leave_their_frames_empty() {
        let dir = folder();
        let load = "file = \"lost.c3d\"\nforce_on = \"instrument\"";
        write(dir.path(), "s.toml", sheet("markers.csv", load));
        let missing = |cells: &Cells| {
            let m = cells.numbers("right.elbow.flexion_moment_n_m");
            (0..m.len()).filter(|i| m[*i].is_nan()).collect::<Vec<_>>()
        };
        write(dir.path(), "lost.c3d", with_lost_samples(30..50));
        let cells = moments(dir.path(), "s.toml", &[]);
        // the last sample of frame 29 stands between frames: it can't be read at frame 30
        assert_eq!(missing(&cells), (30..50).collect::<Vec<_>>());
        assert!(cells.text("quality")[40].contains("no-load-data"));
        let mut cut = arm_and_handle();
        cut.truncate((usize::from(u16::from_le_bytes([cut[16], cut[17]])) - 1) * 512 + 60 * FRAME_BYTES);
        write(dir.path(), "lost.c3d", cut);
        assert_eq!(
            missing(&moments(dir.path(), "s.toml", &[])),
            (60..FRAMES).collect::<Vec<_>>()
        );
    }

    #[test]
    fn property_force_on_body_is_minus_force_on_instrument_and_is_doubted() {
        let dir = folder();
        let sheet_of = |on: &str| {
            sheet("trial.c3d", &format!("file = \"trial.c3d\"\nforce_on = \"{on}\""))
                .replace("[filter]", "[model]\ngravity_m_s2 = 0\n[filter]")
        };
        write(dir.path(), "body.toml", sheet_of("body"));
        write(dir.path(), "instrument.toml", sheet_of("instrument"));
        let (a, b) = (
            moments(dir.path(), "body.toml", &[]),
            moments(dir.path(), "instrument.toml", &[]),
        );
        // without gravity the static part is that of the load alone
        let name = "right.elbow.static_moment_z_n_m";
        for (x, y) in a.numbers(name).iter().zip(&b.numbers(name)) {
            assert!((x + y).abs() < PRINTED, "{x} {y}");
        }
        let (_, _, message) = run(&[
            "moments",
            dir.path().join("body.toml").to_str().unwrap(),
            "--no-plots",
            "--out",
            dir.path().join("o").to_str().unwrap(),
        ]);
        let message = message.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(
            message.contains("most report what the body does to the plate, which is \"instrument\""),
            "{message}"
        );
    }

    /// A copy of the file with other values of a parameter.
    fn with_parameter(b: &[u8], group: &str, name: &str, rank: usize, value: &[u8]) -> Vec<u8> {
        let mut b = b.to_vec();
        let from = b
            .windows(group.len())
            .position(|w| w == group.as_bytes())
            .unwrap();
        let is = |w: &[u8]| w[0] as usize == name.len() && &w[2..] == name.as_bytes();
        let at = from + b[from..].windows(name.len() + 2).position(is).unwrap() + 2 + name.len() + 4 + rank;
        b[at..at + value.len()].copy_from_slice(value);
        b
    }

    /// A copy of the file with each analog sample, given its frame and channel, changed.
    fn with_samples(b: &[u8], change: impl Fn(usize, usize, f32) -> f32) -> Vec<u8> {
        let mut b = b.to_vec();
        let data = (usize::from(u16::from_le_bytes([b[16], b[17]])) - 1) * 512;
        for frame in 0..FRAMES {
            for i in 0..6 * SAMPLES {
                let at = data + frame * FRAME_BYTES + 16 * POINTS + 4 * i;
                let x = f32::from_le_bytes(b[at..at + 4].try_into().unwrap());
                b[at..at + 4].copy_from_slice(&change(frame, i % 6, x).to_le_bytes());
            }
        }
        b
    }

    fn inspect(dir: &Path) -> serde_json::Value {
        let (status, out, message) = run(&["inspect", dir.join("s.toml").to_str().unwrap(), "--json"]);
        assert_eq!(status, 0, "{message}");
        serde_json::from_str::<serde_json::Value>(&out).unwrap()["inspection"].take()
    }

    /// Whether inspect's warnings and what turns its verdict hold these words.
    fn said_and_doubted(dir: &Path, words: &str) -> (bool, bool) {
        let found = inspect(dir);
        let has = |list: &serde_json::Value| {
            list.as_array()
                .unwrap()
                .iter()
                .any(|w| w.as_str().unwrap().contains(words))
        };
        let doubted = has(&found["verdict"]["remarks"]);
        assert!(!doubted || found["verdict"]["is"] == "look", "{found}");
        (has(&found["warnings"]), doubted)
    }

    #[test]
    fn oracle_samples_of_a_tenth_with_their_scale_are_the_same_force_and_without_it_none() {
        let dir = folder();
        write(
            dir.path(),
            "s.toml",
            sheet("trial.c3d", "file = \"trial.c3d\"\nforce_on = \"instrument\""),
        );
        let expected = moments(dir.path(), "s.toml", &[]);
        let tenths = with_samples(&arm_and_handle(), |_, _, x| 10.0 * x);
        let scale: Vec<u8> = [0.1_f32; 6].iter().flat_map(|x| x.to_le_bytes()).collect();
        let tenths = with_parameter(&tenths, "ANALOG", "SCALE", 1, &scale);
        write(dir.path(), "trial.c3d", &tenths);
        same_results(&moments(dir.path(), "s.toml", &[]), &expected, READ_REL);
        // five entries for six channels
        let at = tenths.windows(scale.len()).position(|w| w == scale).unwrap();
        let mut short = tenths;
        short[at - 1] = 5;
        write(dir.path(), "trial.c3d", short);
        let message = refused(
            dir.path(),
            &sheet("markers.csv", "file = \"trial.c3d\"\nforce_on = \"instrument\""),
        );
        for words in [
            "analog channel 'Mz': there is no ANALOG:SCALE for it",
            "hint: correct the labels, units and scales of the group ANALOG",
        ] {
            assert!(message.contains(words), "{message}");
        }
    }

    #[test]
    fn oracle_a_load_taken_for_an_empty_plate_is_missing_in_the_result_and_turns_the_verdict() {
        let dir = folder();
        write(
            dir.path(),
            "s.toml",
            sheet("trial.c3d", "file = \"trial.c3d\"\nforce_on = \"instrument\""),
        );
        let zero = |b: &[u8], frames: [u16; 2]| {
            let value: Vec<u8> = frames.iter().flat_map(|f| f.to_le_bytes()).collect();
            write(
                dir.path(),
                "trial.c3d",
                with_parameter(b, "FORCE_PLATFORM", "ZERO", 1, &value),
            );
        };
        let flexion = || moments(dir.path(), "s.toml", &[]).numbers("right.elbow.flexion_moment_n_m");
        let largest_apart =
            |a: &[f64], b: &[f64]| a.iter().zip(b).fold(0.0, |m: f64, (a, b)| m.max((a - b).abs()));
        let plain = flexion();
        assert_eq!(
            said_and_doubted(dir.path(), "FORCE_PLATFORM:ZERO"),
            (false, false)
        );
        // loaded throughout: the mean over all frames is known in closed form
        zero(&arm_and_handle(), [11, 90]);
        let n = (FRAMES * SAMPLES) as f64;
        let mean = times().map(|t| loads(t).0).sum::<Vector3<f64>>() / n;
        let words = format!(
            "calls it empty in frames 11-90, but it bears {:.1} N there; this load is subtracted",
            mean.norm()
        );
        assert_eq!(said_and_doubted(dir.path(), &words), (true, true));
        assert!(largest_apart(&flexion(), &plain) > 10.0);
        // not the file's frames, which are 11 to 90
        zero(&arm_and_handle(), [1, 10]);
        let words = "calls it empty in frames 1-10, of which the file (frames 11-90) has no samples; nothing is subtracted";
        assert_eq!(said_and_doubted(dir.path(), words), (true, true));
        assert_eq!(largest_apart(&flexion(), &plain), 0.0);
        // drift of 3 N, seen in two frames before the hand takes the handle
        let drift = |channel: usize| if channel == 2 { 3.0 } else { 0.0 };
        let taken = |frame: usize, x: f32| if frame < 2 { 0.0 } else { x };
        write(
            dir.path(),
            "trial.c3d",
            with_samples(&arm_and_handle(), |frame, _, x| taken(frame, x)),
        );
        let undrifted = flexion();
        zero(
            &with_samples(&arm_and_handle(), |frame, channel, x| {
                taken(frame, x) + drift(channel)
            }),
            [11, 12],
        );
        assert!(largest_apart(&flexion(), &undrifted) < 1e-4);
        assert_eq!(
            said_and_doubted(
                dir.path(),
                "the mean of frames 11-12, 3.0 N, is subtracted as that of the empty plate"
            ),
            (true, false)
        );
    }

    #[test]
    fn cli_what_puts_the_force_of_a_platform_in_doubt_turns_the_verdict() {
        let dir = folder();
        let load = |on: &str| sheet("trial.c3d", &format!("file = \"trial.c3d\"\nforce_on = \"{on}\""));
        write(dir.path(), "s.toml", load("instrument"));
        let verdict = inspect(dir.path())["verdict"].clone();
        let remarks = verdict["remarks"].as_array().unwrap();
        assert!(
            remarks.iter().all(|r| !r.as_str().unwrap().contains("platform")),
            "{verdict}"
        );
        let unit = [b"N  N  N  ".as_slice(), &[b' '; 9]].concat();
        write(
            dir.path(),
            "trial.c3d",
            with_parameter(&arm_and_handle(), "ANALOG", "UNITS", 2, &unit),
        );
        assert_eq!(
            said_and_doubted(dir.path(), "does not say the unit of its moments"),
            (true, true)
        );
        let up = 15_f32.to_le_bytes();
        let origin = [1_f32.to_le_bytes(), (-2_f32).to_le_bytes(), up].concat();
        write(
            dir.path(),
            "trial.c3d",
            with_parameter(&arm_and_handle(), "FORCE_PLATFORM", "ORIGIN", 2, &origin),
        );
        assert_eq!(said_and_doubted(dir.path(), "has ORIGIN z = 15"), (true, true));
        let mut no_offset = with_parameter(&arm_and_handle(), "ANALOG", "OFFSET", 1, &[]);
        let at = no_offset.windows(6).position(|w| w == b"OFFSET").unwrap();
        no_offset[at] = b'X';
        write(dir.path(), "trial.c3d", no_offset);
        assert_eq!(
            said_and_doubted(
                dir.path(),
                "ANALOG:OFFSET says nothing of the channels Fx, Fy, Fz, Mx, My, Mz; 0 is taken"
            ),
            (true, true)
        );
        write(dir.path(), "trial.c3d", arm_and_handle());
        write(dir.path(), "s.toml", load("body"));
        assert_eq!(
            said_and_doubted(dir.path(), "which is \"instrument\": check the sign"),
            (true, true)
        );
    }

    #[test]
    fn cross_the_tension_of_a_cable_may_be_a_channel_of_a_c3d_file() {
        let dir = folder();
        // a channel in N, shifted so that it pulls
        let pulls = with_samples(
            &arm_and_handle(),
            |_, channel, x| if channel == 0 { x + 100.0 } else { x },
        );
        write(dir.path(), "trial.c3d", pulls);
        let r = Matrix3::new(2.0, -1.0, 2.0, 2.0, 2.0, -1.0, -1.0, 2.0, 2.0) / 3.0;
        write(
            dir.path(),
            "tension.csv",
            table("time_s,tension", |t| vec![(r.transpose() * loads(t).0).x + 100.0]),
        );
        let cable = |file: &str| {
            sheet("trial.c3d", &format!("{file}\npulley = [-40, 900, 0]")).replace("recorded-force", "cable")
        };
        write(dir.path(), "csv.toml", cable("file = \"tension.csv\""));
        write(
            dir.path(),
            "c3d.toml",
            cable("file = \"trial.c3d\"\nchannels = [\"Fx\"]"),
        );
        same_results(
            &moments(dir.path(), "c3d.toml", &[]),
            &moments(dir.path(), "csv.toml", &[]),
            READ_REL,
        );
        for (file, words) in [
            ("file = \"trial.c3d\"", "'load.0.channels' is missing"),
            (
                "file = \"trial.c3d\"\nchannels = [\"Fx\", \"Fy\"]",
                "'load.0.channels' is a list of 2",
            ),
            (
                "file = \"trial.c3d\"\nchannels = [\"Mx\"]",
                "analog channel 'Mx': its unit is 'nmm'; expected N, for tension",
            ),
            (
                "file = \"trial.c3d\"\nchannels = [\"Fw\"]",
                "the analog channel 'Fw' is not in",
            ),
            (
                "file = \"trial.c3d\"\nplatform = 1\nchannels = [\"Fx\"]",
                "unknown key 'load.0.platform'",
            ),
        ] {
            let message = refused(dir.path(), &cable(file));
            assert!(message.contains(words), "{message}\nlacks: {words}");
        }
    }

    #[test]
    fn cli_platforms_and_channels_that_can_not_be_are_refused_with_place_and_hint() {
        let dir = folder();
        let mut odd = std::fs::read(fixture("c3d/two_platforms.c3d")).unwrap();
        let kind = odd.windows(4).position(|w| w == b"TYPE").unwrap() + 4 + 2 + 2 + 1;
        assert_eq!(odd[kind + 2], 2);
        odd[kind + 2] = 7;
        write(dir.path(), "odd.c3d", odd);
        let on = "force_on = \"instrument\"";
        let hand = format!("{on}\nresolved_in = \"hand\"");
        for (load, words) in [
            (
                format!("file = \"two.c3d\"\n{on}"),
                &[
                    "refused.toml, line",
                    "two.c3d holds 2 force platforms: 1 (type 2; Fx1, Fy1, Fz1, Mx1, My1, Mz1), 2 (type 2; Fx2",
                    "expected `platform` to name one",
                    "hint: platforms are counted from 1",
                ][..],
            ),
            (
                format!("file = \"two.c3d\"\nplatform = 3\n{on}"),
                &[
                    "refused.toml, line 18, column 12",
                    "platform = 3, but",
                    "holds 2 force platforms",
                ],
            ),
            (
                format!("file = \"trial.c3d\"\nplatform = 2\n{on}"),
                &["platform = 2, but", "holds the force platform 1 (type 2; Fx"],
            ),
            (
                format!("file = \"many.c3d\"\n{on}"),
                &["holds no force platform", "no analog channels either"],
            ),
            (
                format!("file = \"trial.c3d\"\nplatform = 0\n{on}"),
                &["'load.0.platform' is 0", "counted from 1"],
            ),
            (
                format!("file = \"trial.c3d\"\nplatform = 1.5\n{on}"),
                &["'load.0.platform' is 1.5", "a whole number"],
            ),
            (
                format!("file = \"handle.csv\"\nplatform = 1\n{on}"),
                &["handle.csv", "expected the C3D signature", "is it a C3D file?"],
            ),
            (
                format!("file = \"odd.c3d\"\nplatform = 2\n{on}"),
                &["force platform 2: TYPE is 7", "hint:"],
            ),
            (
                format!("file = \"trial.c3d\"\n{on}\nat = [\"MCP2\"]"),
                &["`at` with a force platform", "remove `at`"],
            ),
            (
                format!("file = \"trial.c3d\"\n{hand}"),
                &["resolved_in = \"hand\" with a force platform", "channels = ["],
            ),
            (
                "file = \"trial.c3d\"".into(),
                &["'load.0.force_on' is missing", "what force platforms report"],
            ),
            (
                format!("file = \"trial.c3d\"\nplatform = 1\nchannels = [\"Fx\", \"Fy\", \"Fz\"]\n{on}"),
                &["both platform and channels"],
            ),
            (
                format!("file = \"trial.c3d\"\nchannels = [\"Fx\", \"Fy\"]\n{hand}"),
                &["'load.0.channels' is a list of 2", "three analog channels"],
            ),
            (
                format!("file = \"trial.c3d\"\nchannels = [\"Fx\", \"Fx\", \"Fz\"]\n{hand}"),
                &["'load.0.channels' is", "each channel once"],
            ),
            (
                format!("file = \"two.c3d\"\nchannels = [\"Fx1\", \"Fy1\", \"Fz_1\"]\n{hand}"),
                &["the analog channel 'Fz_1' is not in", "did you mean 'Fz1'?"],
            ),
            (
                format!("file = \"trial.c3d\"\nchannels = [\"Fx\", \"Fy\", \"grip strength\"]\n{hand}"),
                &["hint: the file has: Fx, Fy, Fz"],
            ),
            (
                format!("file = \"trial.c3d\"\nchannels = [\"Fx\", \"Fy\", \"Mz\"]\n{hand}"),
                &["analog channel 'Mz': its unit is 'nmm'; expected N"],
            ),
            (
                format!("file = \"trial.c3d\"\nchannels = [\"Fx\", \"Fy\", \"Fz\"]\n{on}"),
                &["'load.0.resolved_in' is missing"],
            ),
            (
                format!("file = \"volts.c3d\"\nchannels = [\"a\", \"b\", \"c\"]\n{hand}"),
                &["analog channel 'a': its unit is 'v'; expected N"],
            ),
        ] {
            write(
                dir.path(),
                "many.c3d",
                std::fs::read(fixture("c3d/many_labels.c3d")).unwrap(),
            );
            write(
                dir.path(),
                "volts.c3d",
                std::fs::read(fixture("c3d/type_4.c3d")).unwrap(),
            );
            let message = refused(dir.path(), &sheet("trial.c3d", &load));
            for w in words {
                assert!(message.contains(w), "{load}\n{message}\nlacks: {w}");
            }
        }
        // a platform beside a damaged one can be used
        write(
            dir.path(),
            "odd.toml",
            sheet(
                "markers.csv",
                &format!("file = \"odd.c3d\"\nplatform = 1\n{on}\ntime_offset_s = 0.1"),
            ),
        );
        moments(dir.path(), "odd.toml", &[]);
    }
}

mod pixels {
    use super::*;

    const PX_PER_M: f64 = 824.0;
    const FRAMES: usize = 60;

    /// Joint centres of an arm in a plane, m: x forward, y up.
    fn centres(t: f64) -> [(&'static str, f64, f64); 3] {
        let (lean, bend) = (0.1 * (0.8 * TAU * t).sin(), 1.0 - 0.7 * (0.9 * TAU * t).cos());
        let elbow = (0.3 + 0.31 * lean.sin(), 1.4 - 0.31 * lean.cos());
        let wrist = (
            elbow.0 + 0.26 * (lean + bend).sin(),
            elbow.1 - 0.26 * (lean + bend).cos(),
        );
        [
            ("SJC", 0.3, 1.4),
            ("EJC", elbow.0, elbow.1),
            ("WJC", wrist.0, wrist.1),
        ]
    }

    /// In the picture: origin at the upper left, y down.
    fn picture(x: f64, y: f64) -> (f64, f64) {
        (150.0 + PX_PER_M * x, 1700.0 - PX_PER_M * y)
    }

    fn csv(to: impl Fn(f64, f64) -> (f64, f64)) -> String {
        let mut out = String::from("time_s,SJC_x,SJC_y,EJC_x,EJC_y,WJC_x,WJC_y\n");
        for i in 0..FRAMES {
            let t = i as f64 / 50.0;
            let cells = centres(t)
                .map(|(_, x, y)| to(x, y))
                .map(|(x, y)| format!("{x},{y}"));
            writeln!(out, "{t},{}", cells.join(",")).unwrap();
        }
        out
    }

    fn force(to: impl Fn(f64, f64) -> (f64, f64), down: f64) -> String {
        let mut out = String::from("time_s,fx,fy,px,py\n");
        for i in 0..30 {
            let (x, y) = to(0.5, 1.2);
            writeln!(
                out,
                "{},{},{},{x},{y}",
                f64::from(i) / 20.0 - 0.1,
                3.0 + 0.01 * f64::from(i),
                -20.0 * down
            )
            .unwrap();
        }
        out
    }

    const SCALE: &str = "length_unit = \"px\"\nscale = { length_px = 412.0, length_m = 0.50 }";

    fn sheet(file: &str, unit: &str, up: &str, pulley: (f64, f64), force: &str) -> String {
        format!(
            "[trial]\nid = \"video\"\nsides = [\"right\"]\n[participant]\nid = \"P 07\"\nsex = \"male\"\nbody_mass_kg = 78\nstature_m = 1.8\n\
             [markers]\nfile = \"{file}\"\n{unit}\nup = \"{up}\"\nforward = \"+x\"\n[filter]\ncutoff_hz = \"none\"\n\
             [[load]]\nkind = \"free-weight\"\nmass_kg = 5\n\
             [[load]]\nkind = \"cable\"\ntension_n = 30\npulley = [{}, {}, 0]\n\
             [[load]]\nkind = \"recorded-force\"\nfile = \"{force}\"\nresolved_in = \"lab\"\nforce_on = \"body\"\n",
            pulley.0, pulley.1
        )
    }

    fn in_pixels() -> String {
        sheet("px.csv", SCALE, "-y", picture(1.1, 0.3), "f_px.csv")
    }

    fn folder() -> tempfile::TempDir {
        let dir = tempfile::tempdir().unwrap();
        let metres = |x, y| (x, y);
        write(dir.path(), "m.csv", csv(metres));
        write(dir.path(), "px.csv", csv(picture));
        write(dir.path(), "f_m.csv", force(metres, 1.0));
        // the picture's y points down, and so does the y of a force in its axes
        write(dir.path(), "f_px.csv", force(picture, -1.0));
        write(
            dir.path(),
            "m.toml",
            sheet("m.csv", "length_unit = \"m\"", "+y", (1.1, 0.3), "f_m.csv"),
        );
        write(dir.path(), "px.toml", in_pixels());
        dir
    }

    #[test]
    fn cross_a_planar_recording_in_pixels_gives_the_moments_of_the_same_in_metres() {
        let dir = folder();
        let (px, m) = (
            moments(dir.path(), "px.toml", &[]),
            moments(dir.path(), "m.toml", &[]),
        );
        assert!(
            m.numbers("right.elbow.flexion_moment_n_m")
                .iter()
                .all(|x| x.is_finite())
        );
        same_results(&px, &m, 1e-9);
    }

    #[test]
    fn cli_inspect_and_sheet_on_pictures() {
        let dir = folder();
        let (status, out, message) = run(&["inspect", dir.path().join("px.toml").to_str().unwrap()]);
        assert!(
            status == 0 && out.contains("noise mm") && out.contains("Planar: no z coordinates"),
            "{out}{message}"
        );
        assert!(
            out.contains("upper arm") && out.contains("310"),
            "length in mm: {out}"
        );
        let px = dir.path().join("px.csv");
        let (status, out, message) = run(&["inspect", px.to_str().unwrap()]);
        assert!(status == 0 && out.contains("noise in its unit"), "{out}{message}");
        let (_, starter, _) = run(&["sheet", px.to_str().unwrap()]);
        for words in [
            "or px with a scale",
            "# scale = { length_px = 412.0, length_m = 0.50 }",
            "in most pictures y points down",
        ] {
            assert!(starter.contains(words), "{words}\n{starter}");
        }
        let (_, starter, _) = run(&["sheet", fixture("engine/curl_markers.csv").to_str().unwrap()]);
        assert!(
            !starter.contains("px"),
            "three coordinates are no picture: {starter}"
        );
    }

    #[test]
    fn cli_sheet_asks_for_the_scale_where_a_file_says_pixels() {
        let dir = tempfile::tempdir().unwrap();
        let stem = "sub-07_task-curl_tracksys-video";
        write(dir.path(), &format!("{stem}_motion.tsv"), "1\t2\n3\t4\n");
        write(
            dir.path(),
            &format!("{stem}_motion.json"),
            "{\"SamplingFrequency\": 50}",
        );
        let channels =
            "name\tcomponent\ttype\ttracked_point\tunits\nx\tx\tPOS\tEJC\tpixels\ny\ty\tPOS\tEJC\tpixels\n";
        write(dir.path(), &format!("{stem}_channels.tsv"), channels);
        let out = dir.path().join("s.toml");
        let (status, _, message) = run(&[
            "sheet",
            dir.path().join(format!("{stem}_motion.tsv")).to_str().unwrap(),
            "--side",
            "right",
            "--out",
            out.to_str().unwrap(),
        ]);
        assert_eq!(status, 0, "{message}");
        let starter = std::fs::read_to_string(&out).unwrap();
        assert!(
            starter.contains("length_unit = \"px\"  # as the file says"),
            "{starter}"
        );
        let (status, _, message) = run(&["moments", out.to_str().unwrap()]);
        assert!(
            status == 1 && message.contains("markers.scale.length_px"),
            "{message}"
        );
    }

    #[test]
    fn cli_scales_that_can_not_be_are_refused_with_place_and_hint() {
        let dir = folder();
        let with = |unit: &str| in_pixels().replace(SCALE, unit);
        for (sheet, words) in [
            (
                with("length_unit = \"px\""),
                &[
                    "refused.toml, line 11, column 15",
                    "there is no markers.scale",
                    "scale = { length_px = 412.0, length_m = 0.50 }",
                ][..],
            ),
            (
                with("length_unit = \"mm\"\nscale = { length_px = 412, length_m = 0.5 }"),
                &[
                    "line 12, column 9",
                    "is \"mm\", which needs none",
                    "remove the scale",
                ],
            ),
            (
                with("length_unit = \"px\"\nscale = { length_px = 412 }"),
                &["'markers.scale.length_m' is missing"],
            ),
            (
                with("length_unit = \"px\"\nscale = { length_px = 0, length_m = 0.5 }"),
                &["'markers.scale.length_px' is 0", "more than 0"],
            ),
            (
                with("length_unit = \"px\"\nscale = { length_px = 412, length_m = 500 }"),
                &["'markers.scale.length_m' is 500", "at most 100 m"],
            ),
            (
                with("length_unit = \"px\"\nscale = { length_px = 412, length_cm = 50, length_m = 0.5 }"),
                &[
                    "unknown key 'markers.scale.length_cm'",
                    "did you mean 'length_m'?",
                ],
            ),
            (
                with("length_unit = \"px\"\nscale = 824"),
                &["'markers.scale' is the number 824", "a table"],
            ),
            (
                with("length_unit = \"pix\""),
                &[
                    "'markers.length_unit' is \"pix\"",
                    "expected one of: mm, cm, m, um, in, ft, px",
                ],
            ),
            (
                with("length_unit = \"px\"\nscale = { length_px = 41.2, length_m = 0.5 }"),
                &[
                    "line 12, column 9",
                    "right upper arm",
                    "3.1000 m long",
                    "is markers.scale right",
                ],
            ),
            (
                in_pixels().replace("px.csv", "deep.csv"),
                &[
                    "line 10, column 8",
                    "deep.csv has three coordinates; expected two",
                    "leave the third column out",
                ],
            ),
        ] {
            let deep: String = csv(picture)
                .lines()
                .enumerate()
                .map(|(i, l)| {
                    let cells: Vec<&str> = l.split(',').collect();
                    let z = |n: &str| if i == 0 { format!("{n}_z") } else { "0".into() };
                    format!(
                        "{},{},{},{},{},{},{}\n",
                        cells[0],
                        cells[1..3].join(","),
                        z("SJC"),
                        cells[3..5].join(","),
                        z("EJC"),
                        cells[5..7].join(","),
                        z("WJC")
                    )
                })
                .collect();
            write(dir.path(), "deep.csv", deep);
            let message = refused(dir.path(), &sheet);
            for w in words {
                assert!(message.contains(w), "{sheet}\n{message}\nlacks: {w}");
            }
        }
    }

    #[test]
    fn cli_a_derivative_says_n_a_where_the_table_is_empty() {
        let dir = folder();
        let set = dir.path().join("derivatives");
        let cells = moments(dir.path(), "px.toml", &["--bids", set.to_str().unwrap()]);
        let motion = std::fs::read_to_string(
            set.join("sub-P07/motion/sub-P07_task-video_tracksys-markers_motion.tsv"),
        )
        .unwrap();
        let names: Vec<&String> = cells
            .names
            .iter()
            .filter(|n| !n.ends_with("phase") && *n != "quality")
            .collect();
        for (row, line) in motion.lines().enumerate() {
            for (name, cell) in names.iter().zip(line.split('\t')) {
                assert_eq!(
                    cell.replace("n/a", ""),
                    cells.text(name)[row],
                    "{name}, row {row}"
                );
            }
        }
        assert!(motion.contains("n/a") && motion.lines().count() == FRAMES);
    }
}

mod derivative {
    use super::*;
    use serde_json::Value;

    fn json(path: &Path) -> Value {
        serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap()
    }

    fn files(dir: &Path) -> Vec<String> {
        let mut out = Vec::new();
        let mut folders = vec![dir.to_owned()];
        while let Some(folder) = folders.pop() {
            for e in std::fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()) {
                if e.is_dir() {
                    folders.push(e)
                } else {
                    out.push(e.strip_prefix(dir).unwrap().display().to_string())
                }
            }
        }
        out.sort();
        out
    }

    /// The engine's curl.
    fn curl(set: &Path, out: &Path, more: &[&str]) -> (i32, String, String) {
        let sheet = fixture("engine/curl.toml");
        let mut args = vec![
            "moments",
            sheet.to_str().unwrap(),
            "--no-plots",
            "--out",
            out.to_str().unwrap(),
            "--bids",
            set.to_str().unwrap(),
        ];
        args.extend(more);
        run(&args)
    }

    #[test]
    fn cross_a_derivative_is_read_back_by_our_own_reader() {
        let dir = tempfile::tempdir().unwrap();
        let (set, out) = (dir.path().join("set"), dir.path().join("out"));
        let (status, stdout, message) = curl(&set, &out, &["--set", "participant.id=\"P-03\""]);
        assert_eq!(status, 0, "{message}");
        assert!(stdout.contains("BIDS derivative: "), "{stdout}");
        let stem = "sub-P03/motion/sub-P03_task-curl_tracksys-markers";
        let expected =
            ["channels.json", "channels.tsv", "motion.json", "motion.tsv"].map(|end| format!("{stem}_{end}"));
        assert_eq!(
            files(&set),
            [
                vec!["README.md".to_owned(), "dataset_description.json".to_owned()],
                expected.to_vec()
            ]
            .concat()
        );
        let about = json(&set.join("dataset_description.json"));
        assert!(
            about["DatasetType"] == "derivative"
                && about["GeneratedBy"][0]["Name"] == "armload"
                && about["Name"].is_string(),
            "{about}"
        );
        assert_eq!(about["GeneratedBy"][0]["Version"], env!("CARGO_PKG_VERSION"));
        let motion = json(&set.join(format!("{stem}_motion.json")));
        assert!(
            motion["SamplingFrequency"] == 100.0 && motion["TaskName"] == "curl",
            "{motion}"
        );
        // our own reader finds times, and every other channel, which is no position
        let table = read(&set.join(format!("{stem}_motion.tsv"))).unwrap();
        let cells = Cells::read(&out.join("moments.csv"));
        let numbers: Vec<String> = cells
            .names
            .iter()
            .filter(|n| !n.ends_with("phase") && *n != "quality")
            .cloned()
            .collect();
        assert_eq!(
            table.column(table.time_column().unwrap()),
            cells.numbers("time_s")
        );
        assert_eq!(table.ignored, numbers[1..]);
        // a line for each column, with all that the standard asks for
        let channels = std::fs::read_to_string(set.join(format!("{stem}_channels.tsv"))).unwrap();
        let rows: Vec<Vec<&str>> = channels.lines().map(|l| l.split('\t').collect()).collect();
        assert_eq!(
            rows[0][..5],
            ["name", "component", "type", "tracked_point", "units"]
        );
        assert_eq!(rows[1..].iter().map(|r| r[0]).collect::<Vec<_>>(), numbers);
        assert!(
            rows.iter()
                .all(|r| r.len() == 7 && r.iter().all(|c| !c.is_empty())),
            "{channels}"
        );
        let row = |name: &str| rows.iter().find(|r| r[0] == name).unwrap()[1..6].to_vec();
        assert_eq!(row("time_s"), ["n/a", "LATENCY", "n/a", "s", "n/a"]);
        assert_eq!(
            row("right.elbow.flexion_deg"),
            ["n/a", "JNTANG", "right_elbow", "deg", "n/a"]
        );
        assert_eq!(
            row("right.shoulder.moment_x_n_m"),
            ["x", "MISC", "right_shoulder", "N*m", "world"]
        );
        assert_eq!(
            row("right.wrist.force_z_n"),
            ["z", "MISC", "right_wrist", "N", "world"]
        );
        assert_eq!(
            row("right.flexor_moment_arm_m"),
            ["n/a", "MISC", "right_elbow", "m", "n/a"]
        );
        // a second trial of the same person stands beside it; a rerun replaces its own
        assert_eq!(
            curl(
                &set,
                &out,
                &["--set", "participant.id=\"P-03\"", "--set", "trial.id=\"second\""]
            )
            .0,
            0
        );
        assert_eq!(curl(&set, &out, &["--set", "participant.id=\"P-03\""]).0, 0);
        assert_eq!(files(&set).len(), 10);
    }

    #[test]
    fn cli_names_come_from_a_bids_recording() {
        let dir = tempfile::tempdir().unwrap();
        let stem = "sub-03_ses-pre_task-curl_tracksys-omc_run-02";
        let csv = std::fs::read_to_string(fixture("engine/curl_markers.csv")).unwrap();
        let mut channels = String::from("name\tcomponent\ttype\ttracked_point\tunits\n");
        for n in csv.lines().next().unwrap().split(',').skip(1) {
            let (point, axis) = n.rsplit_once('_').unwrap();
            writeln!(channels, "{n}\t{axis}\tPOS\t{point}\tmm").unwrap();
        }
        let rows: String = csv
            .lines()
            .skip(1)
            .map(|l| l.split_once(',').unwrap().1.replace(',', "\t") + "\n")
            .collect();
        write(dir.path(), &format!("{stem}_motion.tsv"), rows);
        write(
            dir.path(),
            &format!("{stem}_motion.json"),
            "{\"SamplingFrequency\": 100}",
        );
        write(dir.path(), &format!("{stem}_channels.tsv"), channels);
        let sheet = std::fs::read_to_string(fixture("engine/curl.toml")).unwrap();
        write(
            dir.path(),
            "s.toml",
            sheet.replace("curl_markers.csv", &format!("{stem}_motion.tsv")),
        );
        let set = dir.path().join("set");
        moments(dir.path(), "s.toml", &["--bids", set.to_str().unwrap()]);
        let name = "sub-03/ses-pre/motion/sub-03_ses-pre_task-curl_tracksys-omc_run-02_motion.tsv";
        assert!(set.join(name).exists(), "{:?}", files(&set));
    }

    #[test]
    fn cli_derivatives_that_can_not_be_written_are_refused() {
        let dir = tempfile::tempdir().unwrap();
        let (set, out) = (dir.path().join("set"), dir.path().join("out"));
        let (status, _, message) = curl(&set, &out, &[]);
        assert!(
            status == 1
                && message.contains("curl.toml: the key 'participant.id' is missing")
                && message.contains("hint:"),
            "{message}"
        );
        let (status, _, message) = curl(&set, &out, &["--set", "participant.id=\"--\""]);
        assert!(
            status == 1 && message.contains("gives no BIDS label for 'sub'"),
            "{message}"
        );
        assert!(
            !out.exists() && !set.exists(),
            "nothing is computed or written before"
        );
        let person = ["--set", "participant.id=\"P3\""];
        assert_eq!(curl(&set, &out, &person).0, 0);
        // another trial with the same letters
        let (status, _, message) = curl(&set, &out, &[person[0], person[1], "--set", "trial.id=\"c-url\""]);
        assert!(
            status == 4 && message.contains("it holds the trial \"curl\""),
            "{message}"
        );
        // somebody else's data set
        let raw = dir.path().join("raw");
        std::fs::create_dir(&raw).unwrap();
        write(
            &raw,
            "dataset_description.json",
            "{\"Name\": \"raw\", \"BIDSVersion\": \"1.9.0\"}",
        );
        let (status, _, message) = curl(&raw, &out, &person);
        assert!(
            status == 4 && message.contains("armload did not make"),
            "{message}"
        );
        assert!(message.contains("choose a new or empty folder"), "{message}");
        assert_eq!(files(&raw), ["dataset_description.json"]);
        // another person with the same letters: the first one's files stay
        let before =
            std::fs::read(set.join("sub-P3/motion/sub-P3_task-curl_tracksys-markers_motion.tsv")).unwrap();
        let (status, _, message) = curl(
            &set,
            &out,
            &[
                "--set",
                "participant.id=\"P-3\"",
                "--set",
                "participant.body_mass_kg=90",
            ],
        );
        assert!(
            status == 4 && message.contains("of the participant \"P3\""),
            "{message}"
        );
        assert_eq!(
            std::fs::read(set.join("sub-P3/motion/sub-P3_task-curl_tracksys-markers_motion.tsv")).unwrap(),
            before
        );
        // a folder with other things, a file, the folder of the usual results: refused before anything is
        // computed
        let (notes, late) = (dir.path().join("notes"), dir.path().join("late"));
        std::fs::create_dir(&notes).unwrap();
        write(&notes, "notes.txt", "mine");
        for (to, expected) in [
            (&notes, "holds other things"),
            (&notes.join("notes.txt"), "a file, not a folder"),
            (&late, "are one"),
            (&late.join("set"), "within the other"),
            (&late.join("../late/set"), "within the other"),
            (&notes.join("notes.txt/set"), "a file, not a folder"),
        ] {
            let (status, _, message) = curl(to, &late, &person);
            assert!(status == 4 && message.contains(expected), "{message}");
            assert!(!late.exists(), "nothing is written before");
        }
        assert_eq!(curl(&set, &out, &["--explain", "1"]).0, 2);
    }
}
