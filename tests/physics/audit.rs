//! The energy audit: small when the physics is right, large as soon as one sign is not.

use crate::common::{Folder, Markers, column, curl_sheet, run_good};
use armload::anatomy::arm::CarriedAxes;
use armload::ground::scene::MirroredScene;
use armload::kinetics::newton_euler::{ArmLoads, Pass, pass};
use armload::phases::windows::Windows;
use armload::sheet::TrialSheet;
use armload::smoothing::derivative;
use armload::trial::arm_pass::{ArmBlock, ReadyArm};
use armload::trial::plan::Plan;
use armload::trial::recordings::Recordings;
use nalgebra::Vector3;

/// RMS of (rate of energy - power in) relative to peak power, engine motion without smoothing: what
/// differences of fourth order leave at 100 Hz, with room.
const AUDIT_REL: f64 = 0.005;
/// A broken sign has to show at least this much: four times the limit.
const BROKEN_REL: f64 = 0.02;

#[test]
fn property_audit_is_small_on_the_engine_motion() {
    for (load, title) in [
        ("", "dumbbell with own inertia"),
        (
            "[[load]]\nkind = \"shared-bar\"\nmass_kg = 9.0\nat = [\"bell_out\"]\n",
            "and a bar that moves on its own",
        ),
    ] {
        let results = run_good(&(curl_sheet(&[]) + "\n" + load), &Markers::curl());
        let audit = results.arms[0].audit.unwrap();
        println!(
            "audit, {title}: {:.4} % of {:.1} W",
            100.0 * audit.relative(),
            audit.peak_power_w
        );
        assert!(audit.relative() < AUDIT_REL, "{title}: {audit:?}");
        // peak power is that of a lively curl, not of nothing
        assert!(audit.peak_power_w > 20.0);
    }
}

#[test]
fn property_audit_holds_with_the_default_smoothing_and_for_a_lumped_hand() {
    for edits in [
        vec![("cutoff_hz = \"none\"", "cutoff_hz = \"auto\"")],
        vec![("hand = \"segment\"", "hand = \"lumped\"")],
    ] {
        let lumped = edits[0].1.contains("lumped");
        let mut markers = Markers::curl();
        if lumped {
            markers = markers.without(&["MCP2", "MCP5", "bell_in", "bell_out"]);
        }
        let mut sheet = curl_sheet(&edits);
        if lumped {
            sheet = sheet.replace("at = [\"bell_in\", \"bell_out\"]\n", "");
        }
        let audit = run_good(&sheet, &markers).arms[0].audit.unwrap();
        println!("audit, {edits:?}: {:.4} %", 100.0 * audit.relative());
        assert!(audit.relative() < AUDIT_REL, "{edits:?}: {audit:?}");
    }
}

/// The engine's arm and its computed block, and the same pass with something changed.
struct Bench {
    block: ArmBlock,
    body: armload::anatomy::body::ArmBody,
    rate_hz: f64,
}

fn bench() -> Bench {
    let markers = Markers::curl();
    // the steps of a trial, one after the other, without smoothing
    let folder = Folder::with(&curl_sheet(&[]), &markers.csv());
    let sheet = TrialSheet::read(&folder.path("sheet.toml"), &[]).unwrap();
    let results = run_good(&curl_sheet(&[]), &markers);
    let (recordings, _) = Recordings::read(&sheet).unwrap();
    let (plan, _) = Plan::choose(&sheet, &recordings).unwrap();
    let scene = recordings.trial.scene(&plan.names, &sheet.markers);
    let arm = &plan.arms[0];
    let carried = CarriedAxes::of(arm, MirroredScene::new(&scene, arm.side));
    let body = results.arms[0].body.clone();
    let windows = Windows::usual(scene.rate_hz);
    let ready = ReadyArm {
        plan: arm,
        body: &body,
        loads: &plan.loads[0],
        carried: &carried,
        gravity: Vector3::new(0.0, -9.80665, 0.0),
        elsewhere: Default::default(),
        windows,
        muscles: &armload::muscles::Muscles::default(),
    };
    let block = ready.block(&scene, 0..scene.frames());
    // the pieces put together here are the trial's own
    let moment = column(&results, "right.elbow.moment_z_n_m");
    assert!((0..moment.len()).all(|f| (block.total.elbow[f].moment.z - moment[f]).abs() < 1e-9));
    Bench {
        block,
        body,
        rate_hz: 100.0,
    }
}

impl Bench {
    /// RMS of (rate of energy - power in) over peak power, with energy and power worked out here from the
    /// definitions: E = sum of m v²/2 + w I w/2 + m g y over forearm, hand and dumbbell; P = M_E · w_F + F_E
    /// · v_E + M_W · (w_H - w_F).
    fn audit(&self, loads: &ArmLoads) -> f64 {
        let (m, pose) = (&self.block.motion, &self.block.pose);
        let hand = m.hand.as_ref().unwrap();
        let n = pose.p_e.len();
        let energy: Vec<f64> = (0..n)
            .map(|i| {
                let mut e = self.block.loads[0].energy[i];
                for (body, r, s) in [
                    (&self.body.forearm, &pose.r_wf_inertia[i], &m.forearm),
                    (self.body.hand.as_ref().unwrap(), &pose.r_wh[i], hand),
                ] {
                    let inertia_w = r * body.inertia_kg_m2 * r.transpose();
                    e += 0.5 * body.mass_kg * s.com_velocity[i].norm_squared()
                        + 0.5 * s.omega[i].dot(&(inertia_w * s.omega[i]));
                    e += body.mass_kg * 9.80665 * s.com[i].y;
                }
                e
            })
            .collect();
        let rate = derivative::once(&energy, self.rate_hz);
        let power: Vec<f64> = (0..n)
            .map(|i| {
                let (e, w) = (&loads.elbow[i], &loads.wrist[i]);
                e.moment.dot(&m.forearm.omega[i])
                    + e.force.dot(&m.elbow_velocity[i])
                    + w.moment.dot(&(hand.omega[i] - m.forearm.omega[i]))
            })
            .collect();
        let rms = (rate.iter().zip(&power).map(|(a, b)| (a - b).powi(2)).sum::<f64>() / n as f64).sqrt();
        rms / power.iter().fold(0.0_f64, |a, p| a.max(p.abs()))
    }

    fn pass(&self, gravity: Vector3<f64>) -> ArmLoads {
        pass(
            Pass::Total,
            &self.block.pose,
            &self.block.motion,
            &self.body,
            &self.block.loads,
            gravity,
        )
    }
}

#[test]
fn property_audit_grows_as_soon_as_something_is_wrong() {
    let bench = bench();
    let good = bench.audit(&bench.block.total);
    println!("audit worked out here: {:.4} %", 100.0 * good);
    assert!(good < AUDIT_REL, "{good}");
    let changed = |change: &dyn Fn(&mut ArmLoads, usize)| {
        let mut loads = bench.block.total.clone();
        (0..loads.elbow.len()).for_each(|i| change(&mut loads, i));
        loads
    };
    let p = &bench.block.pose;
    let bad = [
        ("gravity upwards", bench.pass(-bench.block.gravity)),
        ("gravity sideways", bench.pass(Vector3::new(9.80665, 0.0, 0.0))),
        ("no gravity", bench.pass(Vector3::zeros())),
        (
            "elbow force on the wrong side",
            changed(&|l, i| l.elbow[i].force = -l.elbow[i].force),
        ),
        (
            "elbow moment on the wrong side",
            changed(&|l, i| l.elbow[i].moment = -l.elbow[i].moment),
        ),
        (
            "wrist moment on the wrong side",
            changed(&|l, i| l.wrist[i].moment = -l.wrist[i].moment),
        ),
        (
            "elbow moment about the wrist",
            changed(&|l, i| {
                let force = l.elbow[i].force;
                l.elbow[i].moment += (p.p_e[i] - p.p_w[i]).cross(&force);
            }),
        ),
        (
            "the dumbbell forgotten",
            pass(
                Pass::Total,
                p,
                &bench.block.motion,
                &bench.body,
                &[],
                bench.block.gravity,
            ),
        ),
        ("static instead of total", bench.block.statics.clone()),
    ];
    for (what, loads) in bad {
        let found = bench.audit(&loads);
        println!("audit with {what}: {:.1} %", 100.0 * found);
        assert!(found > BROKEN_REL, "{what} shows only as {found}");
    }
}
