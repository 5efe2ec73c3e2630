#!/usr/bin/env python3
"""Two builds, the same bytes? same_outputs.py OLD NEW [FOLDER ...]

Runs both programs over every trial sheet below the folders (and the demonstration, problems of statics, agreement, tables,
starter sheets) in folders of their own with the same names, and compares exit status, what was said, and every file written.
For changes of the inside that must not change the outside. Needs nothing but Python 3.11.
"""
import concurrent.futures
import filecmp
import os
import pathlib
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).resolve().parent.parent
STATICS = [
    '--load "10 kg at 30 cm" --forearm "5 kg at 15 cm" --flexor "3 cm" --elbow "90 deg" --g "9.8 m/s²"',
    '--load "10 kg at 30 cm" --upper-arm "180 deg" --elbow "90 deg" --extensor "2 cm"',
    '--load "80 N at 30 cm, -60 deg" --forearm "1.5 kg at 14 cm" --flexor "4 cm" --json',
    '--load "80 N at 30 cm, to 40 cm, -90 cm" --flexor "4 cm"',
    '--load "band: 40 cm = 0 N; 60 cm = 45 N; 80 cm = 80 N at 32 cm, to 0 cm, -60 cm" --flexor "4 cm"',
    '--load "8 kg at 33 cm" --curve biceps --curve brachialis --curve brachioradialis',
    '--load "? kg at 35 cm" --forearm "1.5 kg at 14 cm" --flexor "4 cm" --flexor-force "900 N"',
    '--load "5 kg at 30 cm" --elbow "?" --elbow-moment "12 N·m"',
    '--load "5 kg at 30 cm" --insertion "5 cm" --line "?" --flexor-force "450 N" --units pound-inch',
    '--load "4 kg at hand" --sex female --body-mass "62 kg" --stature "5 ft 7 in" --upper-arm "45 deg" --elbow "60 deg" --curve biceps',
    *[f"--practice 6 --seed {seed} --level {level}" for seed in (1, 7) for level in (1, 2, 3, 4)],
    "--practice 5 --seed 3 --level 3 --units pound-inch",
    '--load "10 at 30 cm"',
]


def commands(folders):
    """Command lines (as shell text) that are run with `armload` in front; outputs go to `out`."""
    yield "demo", "demo --out out"
    yield "agreement", "demo --out d --no-plots > /dev/null; $ARMLOAD agreement d/*.toml --out out"
    for i, args in enumerate(STATICS):
        yield f"statics {i}", f"statics {args} --out out"
    for args in ("tables", "tables deleva-1996 --sex female --body-mass-kg 64.2 --stature-m 1.71", "tables biceps --json", "--help"):
        yield args, args
    yield "from a recording", "demo --out d --no-plots > /dev/null; $ARMLOAD statics --from d/q07-clean.toml --at 7.78 --out out"
    for folder in folders:
        for sheet in sorted(pathlib.Path(folder).resolve().rglob("*.toml")):
            if "[trial]" not in sheet.read_text(errors="replace"):
                continue
            plots = "" if len(str(sheet)) % 4 == 0 else "--no-plots"
            yield f"moments {sheet}", f"moments {sheet} --out out --details {plots}"
            yield f"inspect {sheet}", f"inspect {sheet} --json"
            yield f"words {sheet}", f"inspect {sheet}"
        for markers in sorted(pathlib.Path(folder).resolve().rglob("markers.csv")):
            yield f"sheet {markers}", f"sheet {markers} --out out.toml"


def run(binary, work, line):
    work.mkdir(parents=True)
    env = {**os.environ, "ARMLOAD": binary, "NO_COLOR": "1", "COLUMNS": "100"}
    done = subprocess.run(f"$ARMLOAD {line}", shell=True, cwd=work, env=env, capture_output=True)
    return done.returncode, done.stdout, done.stderr


def files(folder):
    return {p.relative_to(folder) for p in folder.rglob("*") if p.is_file()}


def compare(job):
    name, line, old, new, work = job
    results = [run(binary, work / side / "w", line) for side, binary in (("a", old), ("b", new))]
    out = [f"{what} differs" for what, a, b in zip(("exit status", "stdout", "stderr"), *results) if a != b]
    left, right = (work / side / "w" for side in "ab")
    out += [f"only one has {p}" for p in sorted(files(left) ^ files(right))]
    shared = sorted(files(left) & files(right))
    out += [f"{p} differs" for p in shared if not filecmp.cmp(left / p, right / p, shallow=False)]
    return name, out, work, results[0][0]


def main():
    old, new, *folders = sys.argv[1:]
    folders = folders or [ROOT / "fixtures", ROOT.parent / "shared" / "cases", ROOT.parent / "shared" / "cases_said"]
    work = pathlib.Path(tempfile.mkdtemp(prefix="same-outputs-"))
    # help texts say the program's name: both have the same
    for side, binary in (("old", old), ("new", new)):
        (work / side).mkdir()
        (work / side / "armload").symlink_to(pathlib.Path(binary).resolve())
    jobs = [
        (name, line, str(work / "old" / "armload"), str(work / "new" / "armload"), work / str(i))
        for i, (name, line) in enumerate(commands([f for f in folders if pathlib.Path(f).exists()]))
    ]
    different = 0
    with concurrent.futures.ThreadPoolExecutor(2) as pool:
        for name, out, where, _ in pool.map(compare, jobs):
            if out:
                different += 1
                print(f"{name}\n  {where}\n  " + "\n  ".join(out[:6]))
            else:
                subprocess.run(["rm", "-rf", where])
    print(f"{len(jobs)} runs, {different} different")
    sys.exit(different > 0)


main()
