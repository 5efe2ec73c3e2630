//! Damaged C3D files: cut at every block, and headers that lie. Markers, force platforms and channels are an error or a warning,
//! never a panic, and never memory by a count that the file does not bear out.

use super::*;
use armload::capture::c3d::{channel_forces, force_platform, force_platforms};
use armload::ground::place::Place;
use armload::ground::warning::Warning;
use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;

const BLOCK: usize = 512;
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
}

fn note(size: usize) {
    // a thread that ends has no counter any more
    let _ = LARGEST.try_with(|l| l.set(l.get().max(size)));
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

/// A 16-bit number becomes one of eight bytes, a label a text of its own: no single piece of memory is more than so many times
/// the file, beside what any run takes.
const TIMES_THE_FILE: usize = 32;
const ANYHOW: usize = 1 << 16;

fn bytes(name: &str) -> Vec<u8> {
    std::fs::read(fixture(&format!("c3d/{name}.c3d"))).unwrap()
}

/// What reading markers and forces says.
struct Read {
    markers: Result<(usize, Vec<Warning>), String>,
    platforms: Result<(Vec<usize>, Vec<Warning>), String>,
}

fn read_all(path: &Path, b: &[u8]) -> Read {
    let path = write(path, "damaged.c3d", b);
    let limit = TIMES_THE_FILE * b.len() + ANYHOW;
    let words = |e: CaptureError| {
        assert!(e.hint().is_some_and(|h| !h.is_empty()), "{e}");
        assert!(e.to_string().contains("damaged.c3d") || e.to_string().contains("sheet.toml"), "{e}");
        e.to_string()
    };
    LARGEST.with(|l| l.set(0));
    let markers = read(&path).map(|t| (t.frames(), t.notes)).map_err(words);
    let mut said = Vec::new();
    let platforms = force_platforms(&path, &mut said).map(|all| (all.iter().map(|p| p.force.len()).collect(), said)).map_err(words);
    let at = Place::file("sheet.toml");
    for n in [None, Some(1), Some(2)] {
        let _ = force_platform(&path, n, &at, &mut Vec::new()).and_then(|p| p.table()).map_err(words);
    }
    let labels = ["Fx", "Fy", "Fz", "Mx", "My", "Mz"].map(str::to_owned);
    let _ = channel_forces(&path, &labels, &at).map_err(words);
    let largest = LARGEST.with(Cell::get);
    assert!(largest <= limit, "{largest} bytes were asked for in one piece; the file has {}", b.len());
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
        let samples = all.platforms.unwrap().0;
        for cut in (0..whole.len()).step_by(BLOCK) {
            let some = read_all(dir.path(), &whole[..cut]);
            let said = |notes: &[Warning]| notes.iter().any(|w| matches!(w, Warning::FileCutOff { .. }));
            match some.markers {
                Ok((n, notes)) => assert!(n == frames || n < frames && said(&notes), "{name} cut at {cut}: {n} frames, {notes:?}"),
                Err(e) => assert!(cut < whole.len() - BLOCK || frames < 3 || whole.len() < 3000, "{name} cut at {cut}: {e}"),
            }
            if let Ok((n, notes)) = some.platforms {
                assert!(n == samples || said(&notes), "{name} cut at {cut}: {n:?} samples, {notes:?}");
            }
        }
    }
}

/// Where the value of a parameter begins: after name, distance, kind, number of dimensions and these.
fn value_at(b: &[u8], name: &str, rank: usize) -> usize {
    // the length of the name stands two bytes ahead of it
    let is = |w: &[u8]| w[0] as usize == name.len() && &w[2..] == name.as_bytes();
    b.windows(name.len() + 2).position(is).unwrap_or_else(|| panic!("no {name}")) + 2 + name.len() + 2 + 2 + rank
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
        (with(at("TYPE", 1) + 2, &[0xff, 0x7f]), "force platform 2: TYPE is 32767"),
        (with(at("TYPE", 1), &[4, 0]), "type 4 needs a CAL_MATRIX"),
        (with(at("TYPE", 1), &[3, 0]), "CHANNEL does not name the 8 channels of type 3"),
        (with(at("CHANNEL", 2), &[13, 0]), "CHANNEL names channel 13, the file has 12"),
        (with(at("CHANNEL", 2), &[0, 0]), "CHANNEL names channel 0, the file has 12"),
        (with(at("CHANNEL", 2), &[0xff, 0xff]), "CHANNEL names channel -1, the file has 12"),
        (with(at("CHANNEL", 2) - 2, &[255, 2]), "force platform 1: CHANNEL has no entry for it"),
        (with(at("CHANNEL", 2) - 2, &[0, 0]), "CHANNEL does not name the 6 channels"),
        (with(at("CORNERS", 3), &[0, 0, 0xc0, 0x7f]), "CORNERS has no entry for it"),
        (with(at("CORNERS", 3) - 3, &[3, 4, 1]), "force platform 2: CORNERS has no entry for it"),
        (with(at("CORNERS", 3), &[0; 48]), "its corners do not span a plane"),
        (with(at("ORIGIN", 2), &[0, 0, 0x80, 0x7f]), "ORIGIN has no entry for it"),
    ] {
        let found = read_all(dir.path(), &b).platforms.map(|p| format!("{:?}", p.0)).unwrap_or_else(|e| e);
        assert!(found.contains(expected), "expected {expected}: {found}");
    }
    let mut b = bytes("type_4");
    let cal = value_at(&b, "CAL_MATRIX", 3);
    b[cal..cal + 4].copy_from_slice(&[0, 0, 0x80, 0xff]);
    assert!(read_all(dir.path(), &b).platforms.unwrap_err().contains("force platform 1: type 4 needs a CAL_MATRIX of 6 x 6"));
    // a baseline over frames that are not there is none
    let (plain, zero) = (read_all(dir.path(), &whole), read_all(dir.path(), &with(at("ZERO", 1), &[1, 0, 0xff, 0x7f])));
    assert_eq!(plain.platforms.unwrap().0, zero.platforms.unwrap().0);
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
