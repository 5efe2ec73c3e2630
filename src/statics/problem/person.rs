//! A participant, whose segments are weights of the problem.

use super::*;

/// Segment weights from an anthropometric table.
pub(super) struct Participant {
    pub(super) table: &'static tables::Table,
    pub(super) body_mass: Quantity,
    pub(super) forearm: &'static Row,
    pub(super) hand: Option<&'static Row>,
    pub(super) upper_arm: Option<&'static Row>,
    pub(super) forearm_length: f64,
    pub(super) hand_length: f64,
    pub(super) hand_at: Option<Quantity>,
    pub(super) upper_arm_length: Option<Quantity>,
    pub(super) notes: Vec<String>,
}

/// Who it is, and by which table.
struct Who {
    table: &'static tables::Table,
    sex: Option<Sex>,
    body_mass: Quantity,
    stature: Option<Quantity>,
}

fn read_who(k: &Keys) -> Result<Who, StaticsError> {
    let table = match k.text("table")? {
        None => tables::DEFAULT,
        Some(name) => {
            tables::find(&name).ok_or_else(|| k.unknown_choice("table", &name, &tables::names()))?
        }
    };
    let sex = k.choice("sex", &[("female", Sex::Female), ("male", Sex::Male)])?;
    if table.by_sex && sex.is_none() {
        return Err(k
            .missing(
                "sex",
                &format!(
                    "\"female\" or \"male\": the table {} has a column for each",
                    table.name
                ),
            )
            .into());
    }
    let body_mass = known(k, "body_mass", &[Dimension::Mass])?
        .ok_or_else(|| k.missing("body_mass", "the participant's mass, like \"73 kg\""))?;
    if !(1.0..=400.0).contains(&body_mass.si) {
        return Err(k
            .out_of_range("body_mass", body_mass.text(), "1 to 400 kg")
            .into());
    }
    let stature = known(k, "stature", &[Dimension::Length])?;
    if let Some(s) = &stature
        && !(0.4..=2.8).contains(&s.si)
    {
        return Err(k.out_of_range("stature", s.text(), "0.4 to 2.8 m").into());
    }
    Ok(Who {
        table,
        sex,
        body_mass,
        stature,
    })
}

pub(super) fn read_participant(k: Keys) -> Result<Participant, StaticsError> {
    let Who {
        table,
        sex,
        body_mass,
        stature,
    } = read_who(&k)?;
    let stature_m = stature.as_ref().map(|s| s.si);
    let mut notes = vec![format!(
        "Segment weights from the table {}: {} ({}).",
        table.name, table.source, table.status
    )];
    let (mut assumed, mut scaled) = (Vec::new(), false);
    let mut length_of = |key: &str, words: &str, part: Option<&Row>| -> Result<Option<f64>, StaticsError> {
        if let Some(q) = length(&k, key, 1.0)? {
            return Ok(Some(q.si));
        }
        let found = part.and_then(|r| table.length_by_stature(r.part, sex, stature_m));
        if let Some((l, by_stature)) = found {
            assumed.push(format!("{words} {l:.4} m"));
            scaled = by_stature;
        }
        Ok(found.map(|f| f.0))
    };
    let (own_hand, both) = (table.row(Part::Hand, sex), table.row(Part::ForearmAndHand, sex));
    let forearm = if own_hand.is_some() {
        table.row(Part::Forearm, sex)
    } else {
        both
    };
    let Some(forearm) = forearm else {
        return Err(k
            .out_of_range("table", table.name, "a table with a forearm")
            .into());
    };
    let upper_arm = table.row(Part::UpperArm, sex);
    let forearm_length = length_of("forearm_length", "forearm", Some(forearm))?.ok_or_else(|| {
        k.missing(
            "forearm_length",
            &format!(
                "elbow to wrist, like \"26 cm\": the table {} prints no lengths",
                table.name
            ),
        )
    })?;
    let hand_length = length_of("hand_length", "hand", own_hand)?.unwrap_or(0.0);
    let upper_arm_length =
        length_of("upper_arm_length", "upper arm", upper_arm)?.map(|l| Quantity::computed(l, CENTIMETRE));
    k.finish()?;
    if !assumed.is_empty() {
        let how = match (&stature, scaled) {
            (Some(s), true) => format!(
                "the table's lengths scaled by a stature of {} over the sample's (from memory)",
                s.text()
            ),
            _ => "the table's own reference lengths, no stature being given".into(),
        };
        notes.push(format!("Segment lengths ({}) are {how}.", assumed.join(", ")));
    }
    let hand_at =
        own_hand.map(|r| Quantity::computed(forearm_length + r.com_fraction() * hand_length, CENTIMETRE));
    Ok(Participant {
        table,
        body_mass,
        forearm,
        hand: own_hand,
        upper_arm,
        forearm_length,
        hand_length,
        hand_at,
        upper_arm_length,
        notes,
    })
}

impl Participant {
    /// The table's weights; the upper arm's only where its length is known.
    pub(super) fn weights(&self, upper_arm_length: Option<&Quantity>) -> Result<Vec<Weight>, StaticsError> {
        let weight = |name: &str, on, row: &Row, at: f64| Weight {
            name: name.to_owned(),
            on,
            amount: Some(Quantity::computed(
                row.mass_fraction() * self.body_mass.si,
                quantity::KG,
            )),
            table: Vec::new(),
            pull: PullGiven::Hangs,
            at: Some(Quantity::computed(at, CENTIMETRE)),
            source: Some(format!(
                "{} % of {} body mass, mass centre at {} % of the length ({})",
                row.mass_percent,
                self.body_mass.text(),
                row.com_percent,
                self.table.name
            )),
        };
        let name = if self.hand.is_some() {
            "forearm"
        } else {
            "forearm and hand"
        };
        let mut all = vec![weight(
            name,
            Link::Forearm,
            self.forearm,
            self.forearm.com_fraction() * self.forearm_length,
        )];
        if let Some(hand) = self.hand {
            all.push(weight(
                "hand",
                Link::Forearm,
                hand,
                self.forearm_length + hand.com_fraction() * self.hand_length,
            ));
        }
        if let (Some(row), Some(length)) = (self.upper_arm, upper_arm_length) {
            all.push(weight(
                "upper arm",
                Link::UpperArm,
                row,
                row.com_fraction() * length.si,
            ));
        }
        Ok(all)
    }
}
