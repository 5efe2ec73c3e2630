//! Trials of many kinds, made of the engine's curl: what is said of any trial is checked on all of them.

use crate::common::{Folder, Markers, curl_sheet, fixture_text};

/// One trial: what it is, and the folder with `sheet.toml` and its files.
pub struct Case {
    /// In a few words.
    pub name: String,
    /// Where it is.
    pub folder: Folder,
}

impl Case {
    fn new(name: &str, sheet: &str, markers: &Markers) -> Self {
        Self {
            name: name.to_owned(),
            folder: Folder::with(sheet, &markers.csv()),
        }
    }

    fn file(self, name: &str, text: &str) -> Self {
        self.folder.write(name, text);
        self
    }
}

/// The load of the engine's sheet.
const WEIGHT: &str = "[[load]]\nkind = \"free-weight\"\nside = \"right\"\nmass_kg = 6.0\nat = [\"bell_in\", \"bell_out\"]\ninertia_kg_m2 = [0.031, 0.0087, 0.031]\n";

/// The engine's sheet with another load, and text replaced.
pub fn with_load(load: &str, edits: &[(&str, &str)]) -> String {
    let sheet = curl_sheet(&[(WEIGHT, load)]);
    edits.iter().fold(sheet, |text, (old, new)| {
        assert!(text.contains(old), "the sheet has no {old:?}");
        text.replace(old, new)
    })
}

/// Points of the curl with their sides, and a left arm that is the mirror image (lab x points to the right).
pub fn two_arms() -> Markers {
    const TRUNK: [&str; 4] = ["IJ", "PX", "C7", "T8"];
    let right = Markers::curl().renamed(|n| {
        if TRUNK.contains(&n) {
            n.to_owned()
        } else {
            format!("right.{n}")
        }
    });
    let left = Markers::curl()
        .without(&TRUNK)
        .renamed(|n| format!("left.{n}"))
        .moved(|[x, y, z]| [-x, y, z]);
    right.with(left)
}

/// A sheet for [`two_arms`] with these loads.
pub fn both(loads: &str) -> String {
    with_load(loads, &[("sides = [\"right\"]", "sides = [\"right\", \"left\"]")])
}

/// A point that is fixed in the body of three others: `a + u (b - a) + v (c - a)`.
fn fixed_in(m: &Markers, [a, b, c]: [&str; 3], [u, v]: [f64; 2]) -> Vec<[f64; 3]> {
    let (a, b, c) = (m.of(a), m.of(b), m.of(c));
    (0..a.len())
        .map(|f| [0, 1, 2].map(|k| a[f][k] + u * (b[f][k] - a[f][k]) + v * (c[f][k] - a[f][k])))
        .collect()
}

/// The curl with technical markers on upper arm and forearm.
pub fn clustered() -> Markers {
    let mut m = Markers::curl();
    let middle = fixed_in(&m, ["EL", "EM", "EM"], [0.5, 0.0]);
    m.points.push(("elbow".into(), middle));
    let places = [[0.2, 0.1], [0.9, 0.2], [0.1, 0.6], [0.8, 0.5]];
    for (name, body) in [("ua", ["EL", "EM", "SJC"]), ("fa", ["RS", "US", "elbow"])] {
        for (k, at) in places.into_iter().enumerate() {
            let p = fixed_in(&m, body, at);
            m.points.push((format!("{name}{k}"), p));
        }
    }
    m.without(&["elbow"])
}

/// Clusters of [`clustered`], with a static trial.
pub const CLUSTERS: &str = "[calibration]\nfile = \"still.csv\"\nclusters = { \"right.upper_arm\" = [\"ua0\", \"ua1\", \"ua2\", \"ua3\"], \"right.forearm\" = [\"fa0\", \"fa1\", \"fa2\", \"fa3\"] }\n\n";

/// A right arm in a picture: lab x forward, y up; shoulder, elbow, wrist and more points by name and place
/// beside the wrist, mm.
pub fn picture(more: &[(&str, [f64; 2])]) -> String {
    let mut csv = String::from("time_s,SJC_x,SJC_y,EJC_x,EJC_y,WJC_x,WJC_y");
    more.iter().for_each(|(n, _)| csv += &format!(",{n}_x,{n}_y"));
    csv.push('\n');
    for i in 0..150 {
        let bend = 1.2 + 0.8 * (f64::from(i) * 0.06).sin();
        let (e, along) = ([310.0, 1100.0], [bend.sin(), -bend.cos()]);
        let w = [0, 1].map(|k| e[k] + 250.0 * along[k]);
        csv += &format!(
            "{},300,1380,{},{},{},{}",
            f64::from(i) / 100.0,
            e[0],
            e[1],
            w[0],
            w[1]
        );
        for (_, [on, beside]) in more {
            csv += &format!(
                ",{},{}",
                w[0] + on * along[0] - beside * along[1],
                w[1] + on * along[1] + beside * along[0]
            );
        }
        csv.push('\n');
    }
    csv
}

/// A sheet for [`picture`].
pub fn picture_sheet(hand: &str) -> String {
    with_load(
        "[[load]]\nkind = \"free-weight\"\nmass_kg = 5.0\n",
        &[
            ("up = \"+z\"", "up = \"+y\""),
            ("forward = \"+y\"", "forward = \"+x\""),
            ("hand = \"segment\"", &format!("hand = \"{hand}\"")),
        ],
    )
}

/// A pull over time, recorded at 50 Hz from -0.5 to 4 s.
pub fn tension() -> String {
    let rows = (0..=225)
        .map(|i| f64::from(i) * 0.02 - 0.5)
        .map(|t| format!("{t},{}\n", 40.0 + 5.0 * (3.0 * t).sin()));
    format!("time_s,tension\n{}", rows.collect::<String>())
}

/// The handle's sheet with a filter.
pub fn handle(filter: &str) -> String {
    fixture_text("engine/curl_handle.toml").replace("cutoff_hz = \"none\"", filter)
}

fn loads() -> Vec<Case> {
    let m = Markers::curl();
    let cable = |more: &str| {
        with_load(
            &format!("[[load]]\nkind = \"cable\"\npulley = [0.0, 900.0, 200.0]\n{more}\n"),
            &[],
        )
    };
    let band = "[[load]]\nkind = \"elastic-band\"\nanchor = [0.0, 300.0, 100.0]\nforce_length = [[0.0, 0.0], [2.0, 120.0]]\n";
    let mut out = vec![
        Case::new(
            "a cable of one tension",
            &cable("tension_n = 40.0\nat = { hand_m = [0.01, -0.07, 0.0] }"),
            &m,
        ),
        Case::new("a cable of recorded tension", &cable("file = \"pull.csv\""), &m)
            .file("pull.csv", &tension()),
        Case::new(
            "a band to an anchor, and two weights for a time",
            &with_load(
                &format!(
                    "{band}[[load]]\nkind = \"free-weight\"\nmass_kg = 1.0\nfrom_s = 1.0\n[[load]]\nkind = \"free-weight\"\nmass_kg = 2.0\nto_s = 0.9\n"
                ),
                &[],
            ),
            &m,
        ),
        Case::new(
            "no load, as stated",
            &with_load("[[load]]\nkind = \"none\"\n", &[]),
            &m,
        ),
        Case::new("no load, not stated", &with_load("", &[]), &m),
        Case::new(
            "a bar in one hand of a trial of one arm",
            &with_load(
                "[[load]]\nkind = \"shared-bar\"\nmass_kg = 20\nat = [\"bell_in\"]\n",
                &[],
            ),
            &m,
        ),
        Case::new(
            "a bar in both hands, one block",
            &both("[[load]]\nkind = \"shared-bar\"\nmass_kg = 20\nshare = 0.4\n"),
            &two_arms(),
        ),
        Case::new(
            "a bar in both hands, two blocks",
            &both(
                "[[load]]\nkind = \"shared-bar\"\nside = \"left\"\nmass_kg = 20\n[[load]]\nkind = \"shared-bar\"\nside = \"right\"\nmass_kg = 20\n",
            ),
            &two_arms(),
        ),
        Case::new(
            "one bar entered as two weights",
            &both(
                "[[load]]\nkind = \"free-weight\"\nside = \"left\"\nmass_kg = 5\nat = [\"right.bell_in\", \"left.bell_in\"]\n[[load]]\nkind = \"free-weight\"\nside = \"right\"\nmass_kg = 5\nat = [\"left.bell_in\", \"right.bell_in\"]\n",
            ),
            &two_arms(),
        ),
    ];
    for filter in [
        "cutoff_hz = \"none\"",
        "cutoff_hz = 7",
        "cutoff_hz = \"auto\"",
        "cutoff_hz = \"auto\"\nforce_cutoff_hz = 9",
        "cutoff_hz = 7\nforce_cutoff_hz = \"auto\"",
        "cutoff_hz = \"auto\"\nforce_cutoff_hz = \"none\"",
        "cutoff_hz = \"none\"\nforce_cutoff_hz = \"same\"",
    ] {
        let force = fixture_text("engine/curl_handle.csv");
        out.push(
            Case::new(
                &format!("a handle, {}", filter.replace('\n', ", ")),
                &handle(filter),
                &m,
            )
            .file("curl_handle.csv", &force),
        );
    }
    out
}

fn arms() -> Vec<Case> {
    let m = Markers::curl();
    let model = |text: &str| curl_sheet(&[("gravity_m_s2 = 9.80665", text)]);
    let acromia = || {
        let (at, other): (Vec<_>, Vec<_>) = m
            .of("SJC")
            .iter()
            .map(|[x, y, z]| ([*x, *y, z + 40.0], [-x, *y, z + 40.0]))
            .unzip();
        m.clone().with(Markers {
            time: Vec::new(),
            points: vec![("right.AC".into(), at), ("left.AC".into(), other)],
        })
    };
    let shoulder = |how: &str| curl_sheet(&[("{ method = \"given\" }", how)]);
    let still = clustered().first(30).csv();
    let calibrated = curl_sheet(&[("[filter]", &format!("{CLUSTERS}[filter]"))]);
    let learnt = calibrated.replace("file = \"still.csv\"\n", "");
    let functional = "elbow_centre = { method = \"functional\" }\ngravity_m_s2 = 9.80665";
    let third = |m: Markers| {
        let p = fixed_in(&m, ["MCP2", "MCP5", "MCP5"], [0.5, 0.0]);
        m.without(&["MCP2", "MCP5"]).with(Markers {
            time: Vec::new(),
            points: vec![("MCP3".into(), p)],
        })
    };
    vec![
        Case::new("the curl", &curl_sheet(&[]), &m),
        Case::new(
            "the curl, automatic cutoff, noise",
            &curl_sheet(&[("\"none\"", "\"auto\"\nmax_gap_s = 0.05")]),
            &m.clone().shaken(0.7, 3),
        ),
        Case::new(
            "the curl with as little said as can be",
            "[trial]\nid = \"least\"\nsides = [\"right\"]\n[participant]\nsex = \"female\"\nbody_mass_kg = 63.5\n[markers]\nfile = \"curl_markers.csv\"\nlength_unit = \"mm\"\nup = \"+z\"\nforward = \"+y\"\n",
            &m,
        ),
        Case::new(
            "a window",
            &curl_sheet(&[("sides =", "from_s = 0.5\nto_s = 2.0\nsides =")]),
            &m,
        ),
        Case::new("a gap", &curl_sheet(&[]), &m.clone().lost("US", 100..140)),
        Case::new(
            "short stretches",
            &curl_sheet(&[]),
            &m.clone().lost("US", 0..300).lost("EL", 303..306),
        ),
        Case::new(
            "exchanged labels and a jump",
            &curl_sheet(&[]),
            &m.clone().exchanged("EL", "EM", 150..190),
        ),
        Case::new("a lumped hand", &curl_sheet(&[("\"segment\"", "\"lumped\"")]), &m),
        Case::new(
            "one row for forearm and hand",
            &curl_sheet(&[("\"segment\"", "\"lumped\""), ("deleva-1996", "dempster-winter")]),
            &m,
        ),
        Case::new(
            "no hand markers",
            &curl_sheet(&[]),
            &m.clone().without(&["MCP2", "MCP5"]),
        ),
        Case::new("a third knuckle", &curl_sheet(&[]), &third(m.clone())),
        Case::new("no trunk", &curl_sheet(&[]), &m.clone().without(&["IJ"])),
        Case::new(
            "a replaced forearm",
            &model(
                "gravity_m_s2 = 9.8\n[model.override.right.forearm]\nmass_kg = 1.2\ncom_fraction = 0.45\nradii_of_gyration_fraction = { x = 0.26, y = 0.1, z = 0.25 }\n[model.override.right.hand]\ninertia_kg_m2 = [[0.001, 0.0, 0.0], [0.0, 0.0005, 0.0], [0.0, 0.0, 0.001]]",
            ),
            &m,
        ),
        Case::new(
            "below the acromion",
            &shoulder("{ method = \"below-acromion\", drop_m = 0.04 }"),
            &acromia(),
        ),
        Case::new(
            "below the acromion by a fraction",
            &shoulder("{ method = \"below-acromion\", drop_fraction = 0.1 }"),
            &acromia(),
        ),
        Case::new(
            "half an elbow's width",
            &model("gravity_m_s2 = 9.81\nelbow_centre = { method = \"half-width\", half_width_m = 0.035 }"),
            &m.clone().without(&["EM"]),
        ),
        Case::new(
            "a functional elbow",
            &learnt.replace("gravity_m_s2 = 9.80665", functional),
            &clustered(),
        ),
        Case::new(
            "clusters of the trial itself",
            &learnt,
            &clustered().lost("EM", 60..140),
        ),
        Case::new(
            "clusters, calibrated",
            &calibrated,
            &clustered().without(&["EM", "US"]).lost("ua1", 50..90),
        )
        .file("still.csv", &still),
        Case::new(
            "a stated moment arm and an agreement",
            &curl_sheet(&[(
                "[[load]]",
                "[phases]\nhold_s = 0.4\n[uncertainty]\nload_percent = 0.5\n[muscles]\nmoment_arm_m = 0.04\n[agreement]\nproblem = \"hold.toml\"\nside = \"right\"\n[[load]]",
            )]),
            &m,
        ),
        Case::new(
            "muscles that share",
            &curl_sheet(&[(
                "[[load]]",
                "[muscles]\nmodel = \"shared\"\nsharing = \"p = 2\"\nalso = [\"pronator teres\"]\nbalance = \"flexion\"\ncocontraction_fraction = 0.1\n[muscles.line.biceps]\norigin_m = [0.01, 0.26, 0.0]\ninsertion_m = [0.01, -0.04, 0.0]\n[[load]]",
            )]),
            &m,
        ),
        Case::new(
            "muscles of a file",
            &curl_sheet(&[(
                "[[load]]",
                "[muscles]\nmodel = \"shared\"\nfile = \"own.csv\"\n[[load]]",
            )]),
            &m,
        )
        .file(
            "own.csv",
            "muscle,cross_section_cm2,flexion_deg,moment_arm_cm\na,10,0,2\na,10,140,4\nb,15,0,-2\n",
        ),
        Case::new(
            "a shared file beside",
            &curl_sheet(&[
                ("[trial]", "include = \"shared.toml\"\n[trial]"),
                ("sex = \"female\"\n", ""),
            ]),
            &m,
        )
        .file(
            "shared.toml",
            "[participant]\nsex = \"female\"\nid = \"P9\"\n[filter]\nforce_cutoff_hz = 9\n",
        ),
        Case::new(
            "points renamed, no times, an axis as a vector",
            &curl_sheet(&[(
                "forward = \"+y\"",
                "forward = [0.0, 1.0, 0.1]\nrate_hz = 100\nrename = { \"outer\" = \"EL\" }",
            )]),
            &m.clone().renamed(|n| n.replace("EL", "outer")),
        ),
        Case {
            name: "a picture of joint centres".into(),
            folder: Folder::with(&picture_sheet("lumped"), &picture(&[])),
        },
        Case {
            name: "a picture in pixels with a third knuckle".into(),
            folder: Folder::with(
                &picture_sheet("segment").replace(
                    "length_unit = \"mm\"",
                    "length_unit = \"px\"\nscale = { length_px = 500.0, length_m = 0.5 }",
                ),
                &picture(&[("MCP3", [75.0, 5.0])]),
            ),
        },
    ]
}

/// All of them; every one can be computed.
pub fn trials() -> Vec<Case> {
    loads().into_iter().chain(arms()).collect()
}
