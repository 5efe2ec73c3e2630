//! Damaged C3D files: cut at every block, and headers that lie. Markers, force platforms and channels are an
//! error or a warning, never a panic, and never memory by a count that the file does not bear out.

use super::*;
use armload::capture::c3d::{PlatformForces, channel_forces, force_platform, force_platforms};
use armload::ground::place::Place;
use armload::ground::warning::Warning;
use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;

const BLOCK: usize = 512;
const COLUMNS: [&str; 6] = ["fx", "fy", "fz", "mx", "my", "mz"];
const FILES: [&str; 12] = [
    "intel_integer",
    "intel_real",
    "dec_integer",
    "dec_real",
    "mips_integer",
    "mips_real",
    "type_1",
    "type_3",
    "type_4",
    "two_platforms",
    "many_labels",
    "arm_and_handle",
];

/// Counts what a thread asks for.
struct Counting;

thread_local! {
    static LARGEST: Cell<usize> = const { Cell::new(0) };
    static PIECES: Cell<usize> = const { Cell::new(0) };
}

fn note(size: usize) {
    // a thread that ends has no counter any more
    let _ = LARGEST.try_with(|l| l.set(l.get().max(size)));
    let _ = PIECES.try_with(|p| p.set(p.get() + 1));
}

// SAFETY: every call goes to the system's allocator unchanged; the counter allocates nothing.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        note(layout.size());
        unsafe { System.alloc(layout) }
    }
    unsafe fn dealloc(&self, at: *mut u8, layout: Layout) {
        unsafe { System.dealloc(at, layout) }
    }
    unsafe fn alloc_zeroed(&self, layout: Layout) -> *mut u8 {
        note(layout.size());
        unsafe { System.alloc_zeroed(layout) }
    }
    unsafe fn realloc(&self, at: *mut u8, layout: Layout, size: usize) -> *mut u8 {
        note(size);
        unsafe { System.realloc(at, layout, size) }
    }
}

#[global_allocator]
static COUNTING: Counting = Counting;

/// A 16-bit number becomes one of eight bytes, a label a text of its own: no single piece of memory is more
/// than so many times the file, beside what any run takes.
const TIMES_THE_FILE: usize = 32;
const ANYHOW: usize = 1 << 16;

fn bytes(name: &str) -> Vec<u8> {
    std::fs::read(fixture(&format!("c3d/{name}.c3d"))).unwrap()
}

/// What reading markers and forces says.
struct Read {
    markers: Result<(usize, Vec<Warning>), String>,
    platforms: Result<(Vec<PlatformForces>, Vec<Warning>), String>,
}

fn read_all(path: &Path, b: &[u8]) -> Read {
    let path = write(path, "damaged.c3d", b);
    let limit = TIMES_THE_FILE * b.len() + ANYHOW;
    let words = |e: CaptureError| {
        assert!(e.hint().is_some_and(|h| !h.is_empty()), "{e}");
        assert!(
            e.to_string().contains("damaged.c3d") || e.to_string().contains("sheet.toml"),
            "{e}"
        );
        e.to_string()
    };
    LARGEST.with(|l| l.set(0));
    let markers = read(&path).map(|t| (t.frames(), t.notes)).map_err(words);
    let mut said = Vec::new();
    let platforms = force_platforms(&path, &mut said)
        .map(|all| (all, said))
        .map_err(words);
    let at = Place::file("sheet.toml");
    for n in [None, Some(1), Some(2)] {
        let _ = force_platform(&path, n, &at, &mut Vec::new())
            .and_then(|p| p.table())
            .map_err(words);
    }
    let labels = ["Fx", "Fy", "Fz", "Mx", "My", "Mz"].map(str::to_owned);
    let _ = channel_forces(&path, &labels, &COLUMNS, &at).map_err(words);
    let largest = LARGEST.with(Cell::get);
    assert!(
        largest <= limit,
        "{largest} bytes were asked for in one piece; the file has {}",
        b.len()
    );
    Read { markers, platforms }
}

#[test]
fn regression_files_cut_at_every_block_give_what_they_have_with_a_warning_or_an_error() {
    let dir = tempfile::tempdir().unwrap();
    for name in FILES {
        let whole = bytes(name);
        let all = read_all(dir.path(), &whole);
        let (frames, notes) = all.markers.unwrap();
        assert!(notes.is_empty(), "{name}: {notes:?}");
        let count =
            |platforms: &[PlatformForces]| platforms.iter().map(|p| p.force.len()).collect::<Vec<_>>();
        let samples = count(&all.platforms.unwrap().0);
        for cut in (0..whole.len()).step_by(BLOCK) {
            let some = read_all(dir.path(), &whole[..cut]);
            let said = |notes: &[Warning]| notes.iter().any(|w| matches!(w, Warning::FileCutOff { .. }));
            match some.markers {
                Ok((n, notes)) => assert!(
                    n == frames || n < frames && said(&notes),
                    "{name} cut at {cut}: {n} frames, {notes:?}"
                ),
                Err(e) => assert!(
                    cut < whole.len() - BLOCK || frames < 3 || whole.len() < 3000,
                    "{name} cut at {cut}: {e}"
                ),
            }
            if let Ok((platforms, notes)) = some.platforms {
                let n = count(&platforms);
                assert!(
                    n == samples || said(&notes),
                    "{name} cut at {cut}: {n:?} samples, {notes:?}"
                );
            }
        }
    }
}

/// Where the value of a parameter begins: after name, distance, kind, number of dimensions and these.
fn value_at(b: &[u8], name: &str, rank: usize) -> usize {
    // the length of the name stands two bytes ahead of it
    let is = |w: &[u8]| w[0] as usize == name.len() && &w[2..] == name.as_bytes();
    b.windows(name.len() + 2)
        .position(is)
        .unwrap_or_else(|| panic!("no {name}"))
        + 2
        + name.len()
        + 2
        + 2
        + rank
}

#[test]
fn regression_lying_counts_and_pointers_of_platforms_are_refused_with_what_they_say() {
    let dir = tempfile::tempdir().unwrap();
    let whole = bytes("two_platforms");
    let group = whole.windows(14).position(|w| w == b"FORCE_PLATFORM").unwrap();
    let used = group + value_at(&whole[group..], "USED", 0);
    let with = |at: usize, value: &[u8]| {
        let mut b = whole.clone();
        b[at..at + value.len()].copy_from_slice(value);
        b
    };
    let at = |name: &str, rank: usize| value_at(&whole, name, rank);
    for (b, expected) in [
        // 65535 platforms, two of them described
        (with(used, &[0xff, 0xff]), "force platform 3: there is no TYPE"),
        (with(used, &[5, 0]), "force platform 3: there is no TYPE"),
        (with(at("TYPE", 1), &[0, 0]), "force platform 1: TYPE is 0"),
        (
            with(at("TYPE", 1) + 2, &[0xff, 0x7f]),
            "force platform 2: TYPE is 32767",
        ),
        (with(at("TYPE", 1), &[4, 0]), "type 4 needs a CAL_MATRIX"),
        (
            with(at("TYPE", 1), &[3, 0]),
            "CHANNEL does not name the 8 channels of type 3",
        ),
        (
            with(at("CHANNEL", 2), &[13, 0]),
            "CHANNEL names channel 13, the file has 12",
        ),
        (
            with(at("CHANNEL", 2), &[0, 0]),
            "CHANNEL names channel 0, the file has 12",
        ),
        (
            with(at("CHANNEL", 2), &[0xff, 0xff]),
            "CHANNEL names channel -1, the file has 12",
        ),
        (
            with(at("CHANNEL", 2) - 2, &[255, 2]),
            "force platform 1: CHANNEL has no entry for it",
        ),
        (
            with(at("CHANNEL", 2) - 2, &[0, 0]),
            "CHANNEL does not name the 6 channels",
        ),
        (
            with(at("CORNERS", 3), &[0, 0, 0xc0, 0x7f]),
            "CORNERS has no entry for it",
        ),
        (
            with(at("CORNERS", 3) - 3, &[3, 4, 1]),
            "force platform 2: CORNERS has no entry for it",
        ),
        (
            with(at("CORNERS", 3), &[0; 48]),
            "its corners do not span a plane",
        ),
        (
            with(at("ORIGIN", 2), &[0, 0, 0x80, 0x7f]),
            "ORIGIN has no entry for it",
        ),
    ] {
        let found = read_all(dir.path(), &b)
            .platforms
            .map(|p| format!("{:?}", p.0))
            .unwrap_or_else(|e| e);
        assert!(found.contains(expected), "expected {expected}: {found}");
    }
    let mut b = bytes("type_4");
    let cal = value_at(&b, "CAL_MATRIX", 3);
    b[cal..cal + 4].copy_from_slice(&[0, 0, 0x80, 0xff]);
    assert!(
        read_all(dir.path(), &b)
            .platforms
            .unwrap_err()
            .contains("force platform 1: type 4 needs a CAL_MATRIX of 6 x 6")
    );
}

#[test]
fn regression_a_baseline_over_frames_that_are_not_there_is_none_and_that_is_said() {
    let dir = tempfile::tempdir().unwrap();
    let whole = bytes("two_platforms");
    let forces = |zero: [u16; 2]| {
        let mut b = whole.clone();
        let at = value_at(&b, "ZERO", 1);
        b[at..at + 2].copy_from_slice(&zero[0].to_le_bytes());
        b[at + 2..at + 4].copy_from_slice(&zero[1].to_le_bytes());
        let (platforms, notes) = read_all(dir.path(), &b).platforms.unwrap();
        (
            platforms.into_iter().flat_map(|p| p.force).collect::<Vec<_>>(),
            notes,
        )
    };
    let (plain, notes) = forces([1, 0]);
    assert!(plain.len() == 40 && notes.is_empty(), "{notes:?}");
    assert_eq!(forces([0, 0]), (plain.clone(), Vec::new()));
    // the file has frames 1 to 10
    for zero in [[1, 0x7fff], [1, 11], [0, 3], [11, 20], [7, 3], [0xffff, 0xffff]] {
        let (found, notes) = forces(zero);
        assert_eq!(found, plain, "{zero:?}");
        let [from, to] = zero.map(i64::from);
        let said = |w: &Warning| matches!(w, Warning::BaselineMissing { from: a, to: b, first: 1, last: 10, .. } if [*a, *b] == [from, to]);
        assert!(notes.len() == 2 && notes.iter().all(said), "{zero:?}: {notes:?}");
    }
    let (found, notes) = forces([1, 10]);
    assert!(found.iter().zip(&plain).all(|(a, b)| (a - b).norm() > 100.0));
    assert!(
        notes
            .iter()
            .all(|w| matches!(w, Warning::BaselineLoaded { from: 1, to: 10, .. })),
        "{notes:?}"
    );
    // frames that are there, but none of their samples
    let mut b = whole.clone();
    let at = value_at(&b, "ZERO", 1);
    b[at..at + 4].copy_from_slice(&[1, 0, 1, 0]);
    let data = (usize::from(u16::from_le_bytes([b[16], b[17]])) - 1) * BLOCK;
    b[data + 64..data + 64 + 4 * 24].fill(0xff);
    let (platforms, notes) = read_all(dir.path(), &b).platforms.unwrap();
    assert_eq!(platforms[0].force[2..], plain[2..20]);
    assert!(
        notes
            .iter()
            .all(|w| matches!(w, Warning::BaselineMissing { from: 1, to: 1, .. })),
        "{notes:?}"
    );
}

/// C3D user guide, ANALOG group (from memory): SCALE, GEN_SCALE and OFFSET apply to samples of integers and
/// of reals alike.
#[test]
fn regression_a_channel_in_use_whose_scaling_is_not_there_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    let at = Place::file("sheet.toml");
    for (name, is_integer) in [("intel_integer", true), ("intel_real", false)] {
        let whole = bytes(name);
        let group = whole
            .windows(8)
            .position(|w| w == [6, 0xfe, b'A', b'N', b'A', b'L', b'O', b'G'])
            .unwrap();
        let value = |parameter: &str, rank| group + value_at(&whole[group..], parameter, rank);
        let with = |at: usize, value: &[u8]| {
            let mut b = whole.clone();
            b[at..at + value.len()].copy_from_slice(value);
            b
        };
        // without the parameter: another name; with one entry less: a smaller dimension
        let renamed = |parameter: &str, rank| with(value(parameter, rank) - rank - 5, b"X");
        let shorter = |parameter: &str| with(value(parameter, 1) - 1, &[5]);
        for (b, label, expected) in [
            (renamed("SCALE", 1), "Fx", "there is no ANALOG:SCALE for it"),
            (shorter("SCALE"), "Mz", "there is no ANALOG:SCALE for it"),
            (
                with(value("SCALE", 1) + 8, &[0; 4]),
                "Fz",
                "ANALOG:SCALE is 0; expected a number other than 0",
            ),
            (
                with(value("SCALE", 1), &[0, 0, 0x80, 0x7f]),
                "Fx",
                "ANALOG:SCALE is inf",
            ),
            (
                renamed("GEN_SCALE", 0),
                "Fx",
                "there is no ANALOG:GEN_SCALE for it",
            ),
            (
                with(value("GEN_SCALE", 0), &[0; 4]),
                "Fx",
                "ANALOG:GEN_SCALE is 0",
            ),
            (renamed("OFFSET", 1), "Fx", "there is no ANALOG:OFFSET for it"),
            (shorter("OFFSET"), "Mz", "there is no ANALOG:OFFSET for it"),
        ] {
            let read = read_all(dir.path(), &b);
            if expected.contains("OFFSET") && !is_integer {
                let (_, notes) = read.platforms.unwrap();
                let said = |w: &Warning| matches!(w, Warning::OffsetTaken { channels, .. } if channels.first().is_some_and(|c| c == label));
                assert!(notes.len() == 1 && said(&notes[0]), "{name}: {notes:?}");
                let labels = ["Fx", "Fy", "Fz", "Mx", "My", "Mz"].map(str::to_owned);
                let table = channel_forces(&dir.path().join("damaged.c3d"), &labels, &COLUMNS, &at).unwrap();
                assert_eq!(
                    table.notes.iter().map(ToString::to_string).collect::<Vec<_>>(),
                    [notes[0].to_string()]
                );
                continue;
            }
            let found = read.platforms.map(|p| format!("{:?}", p.0)).unwrap_or_else(|e| e);
            let expected = format!("analog channel '{label}': {expected}");
            assert!(found.contains(&expected), "{name}: expected {expected}: {found}");
            // a channel that is not in use may lack it
            let labels = ["Fy", "Fx", "Fz"].map(str::to_owned);
            let used = channel_forces(&dir.path().join("damaged.c3d"), &labels, &COLUMNS[..3], &at);
            assert_eq!(used.is_ok(), label == "Mz", "{name}: {expected}");
        }
    }
}

#[test]
fn regression_a_negative_sample_costs_no_more_memory_than_another() {
    let dir = tempfile::tempdir().unwrap();
    let whole = bytes("intel_integer");
    let data = (usize::from(u16::from_le_bytes([whole[16], whole[17]])) - 1) * BLOCK;
    let pieces = |sample: u8| {
        let mut b = whole.clone();
        for frame in 0..10 {
            // four points, then two samples of six channels
            let at = data + frame * 56 + 32;
            b[at..at + 24].fill(sample);
        }
        let path = write(dir.path(), "trial.c3d", b);
        let before = PIECES.with(Cell::get);
        force_platforms(&path, &mut Vec::new()).unwrap();
        PIECES.with(Cell::get) - before
    };
    assert_eq!(pieces(0xff), pieces(0x01));
}

#[test]
fn regression_numbers_at_the_end_of_their_range_ask_for_no_memory() {
    let dir = tempfile::tempdir().unwrap();
    for name in FILES {
        let whole = bytes(name);
        let mips = name.starts_with("mips");
        let word = |x: u16| if mips { x.to_be_bytes() } else { x.to_le_bytes() };
        // header: points, analog values, first and last frame, samples of a frame
        for at in [2, 4, 6, 8, 16, 18] {
            for x in [0, 1, 2, 255, 0x7fff, 0x8000, 0xffff] {
                let mut b = whole.clone();
                b[at..at + 2].copy_from_slice(&word(x));
                read_all(dir.path(), &b);
                // and the parameters say the same
                for (parameter, field) in [("USED", 2), ("FRAMES", 8)] {
                    if at == field {
                        let to = value_at(&b, parameter, 0);
                        b[to..to + 2].copy_from_slice(&word(x));
                        read_all(dir.path(), &b);
                    }
                }
            }
        }
        // every parameter as large as a parameter can say it is
        for (i, _) in whole[BLOCK..]
            .windows(4)
            .enumerate()
            .filter(|(_, w)| [-1_i8, 1, 2, 4].contains(&(w[0] as i8)) && (1..=3).contains(&w[1]))
            .take(60)
        {
            let mut b = whole.clone();
            b[BLOCK + i + 2..BLOCK + i + 4].fill(0xff);
            read_all(dir.path(), &b);
            b[BLOCK + i + 1] = 7;
            read_all(dir.path(), &b);
        }
    }
}
