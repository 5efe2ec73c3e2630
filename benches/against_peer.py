#!/usr/bin/env python3
"""Whole runs beside a NumPy pipeline and the input/output floor, on one long recording, interleaved.

    against_peer.py --bench-dir DIR [--bin target/release/armload] [--repeat 5] [--frames 120000] [--rate 200]

DIR holds three scripts: make_big.py writes the recording (OUTDIR --frames N --rate HZ), peer_pipeline.py computes the same in NumPy
(SHEET --out DIR --timing), floor.py lets polars read the markers and write the same columns with nothing between (SHEET MOMENTS_CSV --repeat 1).
Each round runs all of them once, one after another; the table gives the least and the middle time of each, and ratios of the least.
Needs python with numpy, scipy and polars, and `cargo build --release` done before.

The program is timed from outside (start of the process to its end, without pictures). The peer and the floor time themselves inside python,
which leaves out python's own start: the comparison is on their side.
"""
import argparse
import json
import pathlib
import statistics
import subprocess
import sys
import tempfile
import time

AIM_OVER_FLOOR = 1.6      # the whole run without pictures, times the floor


def run(command):
    """-> wall time in s, stdout. A failing command ends the script with its message."""
    start = time.perf_counter()
    done = subprocess.run([str(c) for c in command], capture_output=True, text=True)
    wall = time.perf_counter() - start
    if done.returncode != 0:
        sys.exit(f"{' '.join(str(c) for c in command)}\nexit status {done.returncode}\n{done.stderr.strip()}")
    return wall, done.stdout


def last_json(text):
    return json.loads(text.strip().splitlines()[-1])


def main():
    root = pathlib.Path(__file__).resolve().parent.parent
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("--bench-dir", required=True, type=pathlib.Path)
    ap.add_argument("--bin", default=root / "target/release/armload", type=pathlib.Path)
    ap.add_argument("--repeat", type=int, default=5)
    ap.add_argument("--frames", type=int, default=120_000)
    ap.add_argument("--rate", type=float, default=200.0)
    ap.add_argument("--cutoff", help="filter.cutoff_hz for the program, if not what the sheet says")
    a = ap.parse_args()
    python = sys.executable
    times = {}

    def note(name, seconds):
        times.setdefault(name, []).append(seconds)

    with tempfile.TemporaryDirectory() as tmp:
        tmp = pathlib.Path(tmp)
        print(run([python, a.bench_dir / "make_big.py", tmp, "--frames", a.frames, "--rate", a.rate])[1].strip())
        sheet, out = tmp / "sheet.toml", tmp / "out"
        mine = [a.bin, "moments", sheet, "--out", out, "--no-plots", "--quiet"] + (["--set", f"filter.cutoff_hz={a.cutoff}"] if a.cutoff else [])
        run(mine)                         # the files are in the page cache for everybody
        for _ in range(a.repeat):
            note("armload, whole process", run(mine)[0])
            peer = last_json(run([python, a.bench_dir / "peer_pipeline.py", sheet, "--out", tmp / "peer", "--timing"])[1])
            note("peer, total", peer["total"])
            for stage in ("read csv", "rows + filter", "mechanics", "write csv"):
                note(f"peer, {stage}", peer[stage])
            floor = last_json(run([python, a.bench_dir / "floor.py", sheet, out / "moments.csv", "--repeat", 1])[1])
            note("floor, read + write", floor["floor_s"])
            note("floor, read", floor["read_s"])
            note("floor, write", floor["write_s"])
        size = (out / "moments.csv").stat().st_size / 1e6
    least = {k: min(v) for k, v in times.items()}
    print(f"moments.csv: {size:.1f} MB; {a.repeat} rounds, interleaved")
    print(f"{'':28s} {'least s':>9s} {'middle s':>9s} {'ns/frame':>9s}")
    for name, values in times.items():
        print(f"{name:28s} {min(values):9.3f} {statistics.median(values):9.3f} {min(values) / a.frames * 1e9:9.0f}")
    whole, floor, peer = least["armload, whole process"], least["floor, read + write"], least["peer, total"]
    print(f"\nwhole run / floor       {whole / floor:6.2f}   (aim: under {AIM_OVER_FLOOR})")
    print(f"peer / whole run        {peer / whole:6.2f}")
    print(f"what is not input/output: {whole - floor:.3f} s here (whole - floor), {least['peer, rows + filter'] + least['peer, mechanics']:.3f} s in the peer (filter + mechanics)")


if __name__ == "__main__":
    main()
