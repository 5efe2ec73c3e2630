//! What a sheet states of the participant, the segments, gravity and the things in the hands.

use super::{COMMON_PRACTICE, Usual};
use crate::anatomy::settings::SegmentOverride;
use crate::anatomy::tables::Part;
use crate::ground::names::Segment;
use crate::ground::warning::Warning;
use crate::muscles::{Arm, Model, Muscles};
use crate::sheet::TrialSheet;
use nalgebra::Vector3;

/// Everything in the sheet alone that is doubted.
pub fn doubted_person(sheet: &TrialSheet) -> Vec<Warning> {
    let mut out = size(sheet);
    out.extend(gravity(sheet.model.gravity_m_s2));
    out.extend(moment_arm(&sheet.muscles));
    for ((side, segment), over) in &sheet.model.overrides {
        out.extend(segment_override(
            sheet,
            &format!("{side} {}", segment.words()),
            *segment,
            over,
        ));
    }
    for load in &sheet.loads {
        let name = format!("{} {}", load.side, load.label);
        if let Some((mass_kg, inertia)) = load.kind.as_ref().and_then(|k| k.inertia()) {
            out.extend(load_inertia(&name, mass_kg, inertia));
        }
    }
    out.extend(twice(sheet));
    out
}

/// Body mass and stature, each alone and against each other.
///
/// # Source
/// Body mass index: WHO classification, normal 18.5-25, obesity class III from 40 on (from memory).
fn size(sheet: &TrialSheet) -> Vec<Warning> {
    let person = &sheet.participant;
    let mass = Usual {
        unit: "kg",
        words: "40 to 150 kg, adults of the tables".into(),
        source: COMMON_PRACTICE,
        ask: "is participant.body_mass_kg in kg, not in pounds or stones?",
        doubted: (20.0, 180.0),
        never: (5.0, 300.0),
    };
    let stature = Usual {
        unit: "m",
        words: "1.45 to 2.05 m, adults of the tables".into(),
        source: COMMON_PRACTICE,
        ask: "is participant.stature_m right, in m?",
        doubted: (1.20, 2.30),
        never: (0.8, 2.6),
    };
    let index = Usual {
        unit: "kg/m²",
        words: "18.5 to 40 kg/m²".into(),
        source: "WHO classes of the body mass index, from memory",
        ask: "are participant.body_mass_kg (kg, not pounds) and participant.stature_m those of one person?",
        doubted: (14.0, 45.0),
        never: (9.0, 100.0),
    };
    let of_index = person
        .stature_m
        .and_then(|h| index.doubt("the body mass index is", person.body_mass_kg / (h * h)));
    let of_stature = person.stature_m.and_then(|h| stature.doubt("the stature is", h));
    [
        mass.doubt("the body mass is", person.body_mass_kg),
        of_stature,
        of_index,
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// Gravity on the ground; 10 m/s² is a teaching value.
fn gravity(found: f64) -> Option<Warning> {
    let usual = Usual {
        unit: "m/s²",
        words: "9.76 to 9.84 m/s² on the ground, and 10 in teaching".into(),
        source: "normal gravity from the equator's mountains to the poles, from memory",
        ask: "is model.gravity_m_s2 right?",
        doubted: (9.76, 9.84),
        never: (9.7, 10.0),
    };
    usual.doubt("gravity is", found).filter(|_| found != 10.0)
}

/// A constant moment arm of the equivalent flexor.
fn moment_arm(muscles: &Muscles) -> Option<Warning> {
    let Arm::Constant(found) = &muscles
        .list
        .first()
        .filter(|_| muscles.model == Model::Single)?
        .arm
    else {
        return None;
    };
    let usual = Usual {
        unit: "m",
        words: "0.015 to 0.08 m".into(),
        source: "Murray, Buchanan & Delp (2000) J Biomech 33:943, abstract: brachioradialis 0.077 m on average at its peak, biceps 0.047 m",
        ask: "is muscles.moment_arm_m in m?",
        doubted: (0.01, 0.10),
        never: (0.004, 0.15),
    };
    usual.doubt("the flexor's moment arm is", *found)
}

/// Values of a segment that replace the table's, against the table's.
fn segment_override(
    sheet: &TrialSheet,
    name: &str,
    segment: Segment,
    over: &SegmentOverride,
) -> Vec<Warning> {
    let (table, sex) = (sheet.model.table, sheet.participant.sex);
    let part = match segment {
        Segment::UpperArm => Part::UpperArm,
        Segment::Forearm if table.hand_can_be_segment() => Part::Forearm,
        Segment::Forearm => Part::ForearmAndHand,
        _ => Part::Hand,
    };
    let Some(row) = table.row(part, sex).or_else(|| table.row(Part::Forearm, sex)) else {
        return Vec::new();
    };
    let of_table = row.mass_fraction() * sheet.participant.body_mass_kg;
    let mass = Usual {
        unit: "kg",
        words: format!("{of_table:.2} kg by the table, people differ from it by 5 to 20 %"),
        source: "from memory",
        ask: "is the override's mass_kg in kg, and of this segment?",
        doubted: (0.5 * of_table, 2.0 * of_table),
        never: (0.2 * of_table, 4.0 * of_table),
    };
    let com = row.com_fraction();
    let centre = Usual {
        unit: "of the length from the proximal joint",
        words: format!("{com:.2} by the table; tables differ by 0.15"),
        source: "de Leva 1996 against Dempster in Winter",
        ask: "is com_fraction counted from the proximal joint?",
        doubted: (com - 0.25, com + 0.25),
        never: (0.1, 1.0),
    };
    let radius = |axis: &str, found: f64, of_table: f64| {
        // about the long axis a segment is as thick as it is, and some tables have no row for it
        let (low, high) = if axis == "y" {
            (0.0, (2.0 * of_table).max(0.35))
        } else {
            (0.4 * of_table, 2.0 * of_table)
        };
        Usual {
            unit: "of the length",
            words: format!("{of_table:.2} by the table; across the segment 0.5 if all mass sat at the two ends"),
            source: "geometry",
            ask: "are radii of gyration fractions of the length, about the mass centre, and moments of inertia in kg·m²?",
            doubted: (low, high),
            never: (0.0, 0.5_f64.max(high)),
        }
        .doubt(format!("{name}: the radius of gyration about {axis} is"), found)
    };
    let mut out: Vec<Warning> = over
        .mass_kg
        .and_then(|m| mass.doubt(format!("{name}: the mass is"), m))
        .into_iter()
        .collect();
    out.extend(
        over.com_fraction
            .and_then(|c| centre.doubt(format!("{name}: the mass centre lies at"), c)),
    );
    let radii = over.radii.or_else(|| {
        // a length is not known before the recording is: the tensor is held against a segment of 0.25 m (a
        // hand: 0.08 m)
        let (tensor, mass_kg) = (over.inertia_kg_m2?, over.mass_kg.unwrap_or(of_table));
        let length_m = if segment == Segment::Hand { 0.08 } else { 0.25 };
        (mass_kg > 0.0).then(|| tensor.diagonal().map(|i| (i / mass_kg).sqrt() / length_m))
    });
    if let Some(r) = radii {
        out.extend(
            [("x", 0), ("y", 1), ("z", 2)]
                .into_iter()
                .filter_map(|(axis, k)| radius(axis, r[k], row.radii()[k])),
        );
    }
    out
}

/// Densest thing a load can be made of, kg/m³ (tungsten and gold: 19,300).
const DENSEST_KG_M3: f64 = 20_000.0;

/// A load's own inertia against its mass and size.
///
/// # Equation
/// Radius of gyration k = sqrt(largest moment / mass); at least that of a sphere of the densest metal,
/// sqrt(2/5) r.
fn load_inertia(name: &str, mass_kg: f64, inertia: Vector3<f64>) -> Option<Warning> {
    let largest = inertia.max();
    let sphere_m = (3.0 * mass_kg / (4.0 * std::f64::consts::PI * DENSEST_KG_M3)).cbrt();
    let usual = Usual {
        unit: "m",
        words: "0.04 to 0.2 m for a dumbbell, 0.6 m for a long bar".into(),
        source: COMMON_PRACTICE,
        ask: "is inertia_kg_m2 in kg·m², about the load's own mass centre?",
        doubted: (0.4_f64.sqrt() * sphere_m, 0.5),
        never: (0.2 * sphere_m, 1.0),
    };
    // no inertia at all is a point mass, and that is the default
    usual
        .doubt(
            format!("{name}: the radius of gyration, by its inertia and mass, is"),
            (largest / mass_kg).sqrt(),
        )
        .filter(|_| largest > 0.0)
}

/// Loads that stand twice: two alike on one arm, or one file's force on both.
fn twice(sheet: &TrialSheet) -> Vec<Warning> {
    let named: Vec<_> = sheet
        .loads
        .iter()
        .filter_map(|l| Some((l, l.words()?, l.kind.as_ref()?.is_recorded())))
        .collect();
    let mut out = Vec::new();
    for (i, (a, words, recorded)) in named.iter().enumerate() {
        for (b, ..) in named[..i]
            .iter()
            .filter(|(b, w, _)| w == words && (b.side == a.side || *recorded))
        {
            let name = |l: &crate::kinetics::loads::Load| format!("{} {}", l.side, l.label);
            out.push(Warning::LoadTwice {
                load: name(b),
                other: name(a),
                words: words.clone(),
            });
        }
    }
    out
}
