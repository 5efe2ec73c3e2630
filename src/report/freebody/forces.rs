//! Forces on forearm and arm, and the table of them.

use super::*;

/// An arrow of the diagram.
#[derive(Clone, Debug)]
pub(super) struct Force {
    pub(super) symbol: String,
    pub(super) what: String,
    /// Where it acts, m from the joint.
    pub(super) at: Plane,
    /// N
    pub(super) vector: Plane,
    pub(super) ink: Ink,
    /// Perpendicular distance of its line from the joint, m, + where muscles have to flex or raise; 0 for
    /// forces through it.
    pub(super) lever: f64,
    /// Whether it hangs: its lever is then a horizontal distance.
    pub(super) hangs: bool,
}

impl Force {
    pub(super) fn size(&self) -> f64 {
        self.vector[0].hypot(self.vector[1])
    }
    pub(super) fn torque(&self) -> f64 {
        self.at[0] * self.vector[1] - self.at[1] * self.vector[0]
    }
    pub(super) fn is_load(&self) -> bool {
        self.ink == Ink::Strong
    }
}

/// What the diagram calls things, in the problem's units.
pub(super) struct Names<'a>(pub(super) &'a Problem);

impl Names<'_> {
    pub(super) fn write(si: f64, unit: &Unit) -> String {
        let x = unit.of_si(si);
        with_unit(&sig(if x.abs() < 1e-9 { 0.0 } else { x }, SHOWN), unit)
    }
    pub(super) fn force(&self, n: f64) -> String {
        Self::write(n, &self.0.units.force)
    }
    pub(super) fn length(&self, m: f64) -> String {
        Self::write(m, &self.0.units.length)
    }
    pub(super) fn moment(&self, nm: f64) -> String {
        Self::write(nm, &self.0.units.moment)
    }
    pub(super) fn angle(rad: f64) -> String {
        typeset(&format!(
            "{}°",
            sig(if rad.abs() < 1e-9 { 0.0 } else { rad.to_degrees() }, SHOWN)
        ))
    }
}

pub(super) fn load_forces(p: &Problem, s: &Setting, joint: Joint) -> Vec<Force> {
    let centre = if joint == Joint::Shoulder {
        s.shoulder().unwrap_or([0.0; 2])
    } else {
        [0.0; 2]
    };
    let all = s
        .weights
        .iter()
        .enumerate()
        .filter(|(_, w)| joint == Joint::Shoulder || w.on == Link::Forearm);
    all.filter_map(|(i, w)| {
        let a = s.acting(w)?;
        let hangs = w.pull == Pull::Hangs;
        Some(Force {
            symbol: load_symbol(hangs, i),
            what: p.weights[i].name.clone(),
            at: [a.at[0] - centre[0], a.at[1] - centre[1]],
            vector: a.force(),
            ink: Ink::Strong,
            lever: a.lever_about(centre),
            hangs,
        })
    })
    .collect()
}

/// Forces on the forearm cut free at the elbow.
pub(super) fn forearm_forces(p: &Problem, s: &Setting) -> Vec<Force> {
    let mut all = load_forces(p, s, Joint::Elbow);
    let joint = |symbol: &str, what: &str, vector: Plane| Force {
        symbol: symbol.into(),
        what: what.into(),
        at: [0.0, 0.0],
        vector,
        ink: Ink::Third,
        lever: 0.0,
        hangs: false,
    };
    match (s.muscle_forces(), s.joint_force()) {
        (Some(forces), Some(j)) => {
            for (i, m) in s
                .muscles
                .iter()
                .enumerate()
                .filter(|(i, _)| s.at_work().contains(i))
            {
                if let (Some(l), Some(at)) = (s.lever_of(m), s.attachment(m)) {
                    let vector = [forces[i] * l.direction[0], forces[i] * l.direction[1]];
                    let what = p.muscles[i].name.clone();
                    all.push(Force {
                        symbol: muscle_symbol(s, "F", i),
                        what,
                        at,
                        vector,
                        ink: Ink::Second,
                        lever: l.moment_arm,
                        hangs: false,
                    });
                }
            }
            all.push(joint("J", "joint, bone on bone", j));
        }
        _ => {
            let r = s.loads(Joint::Elbow);
            all.push(joint("R", "net force of the joint", [-r[0], -r[1]]));
        }
    }
    all
}

/// Forces on the whole arm cut free at the shoulder.
pub(super) fn arm_forces(p: &Problem, s: &Setting) -> Vec<Force> {
    let mut all = load_forces(p, s, Joint::Shoulder);
    let r = s.loads(Joint::Shoulder);
    all.push(Force {
        symbol: "Rₛ".into(),
        what: "net force of the shoulder".into(),
        at: [0.0, 0.0],
        vector: [-r[0], -r[1]],
        ink: Ink::Third,
        lever: 0.0,
        hangs: false,
    });
    all
}

/// Every force of a part with its lever and torque.
pub(super) fn force_table(name: &str, forces: &[Force], moment: Option<(&str, f64)>, p: &Problem) -> Table {
    let u = &p.units;
    let number = |si: f64, unit: &Unit| {
        let x = unit.of_si(si);
        sig(if x.abs() < 1e-9 { 0.0 } else { x }, SHOWN).replace('-', "\u{2212}")
    };
    let mut rows: Vec<Vec<String>> = forces
        .iter()
        .map(|f| {
            let direction = if f.size() < 1e-9 {
                "–".into()
            } else {
                direction_words(f.vector)
            };
            vec![
                format!("{}  {}", f.symbol, f.what),
                number(f.size(), &u.force),
                direction,
                number(f.lever, &u.length),
                number(f.torque(), &u.moment),
            ]
        })
        .collect();
    let dash = || "–".to_owned();
    if let Some((symbol, m)) = moment {
        rows.push(vec![
            format!("{symbol}  net moment of the muscles"),
            dash(),
            dash(),
            dash(),
            number(m, &u.moment),
        ]);
    }
    let torque = forces.iter().map(Force::torque).sum::<f64>() + moment.map_or(0.0, |m| m.1);
    let scale = forces.iter().map(|f| f.torque().abs()).fold(1e-12, f64::max);
    rows.push(vec![
        "Sum".into(),
        dash(),
        dash(),
        dash(),
        number(if torque.abs() < 1e-9 * scale { 0.0 } else { torque }, &u.moment),
    ]);
    let head = |q: &str, unit: &str| (q.to_owned(), unit.to_owned());
    Table {
        name: name.into(),
        head: vec![
            head("force", ""),
            head("size", &u.force.symbol),
            head("direction", ""),
            head("lever", &u.length.symbol),
            head("torque", &u.moment.symbol),
        ],
        rows,
        note: "Torques + counter-clockwise (flexing, raising forwards).".into(),
    }
}
