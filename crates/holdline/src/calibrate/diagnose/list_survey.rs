//! What may be wrong with the survey, with one shot of it, or with the moment: shifts, feet, lag, play.

use super::list::{List, Said, sized};
use super::scene::{Change, Direction, Scene};
use super::told::{NotTried, Unit};

pub(super) fn survey(scene: &Scene, list: &mut List) {
    let shift = |name: &'static str, along: [f64; 3], plus: &str, minus: &str| {
        sized(
            Direction::Shift(along),
            Said {
                name,
                unit: Unit::Metre,
                plus: plus.to_owned(),
                minus: minus.to_owned(),
                usual: 1.0,
            },
        )
    };
    let has = |axis: usize| scene.rows.iter().any(|(_, of)| *of == axis);
    if has(2) {
        list.add(
            "shift.up",
            "up",
            "heights shifted: control, satellite fix or base station, geoid, antenna or prism height",
            "a rover or level on a control point; the same shot again after an hour, for the satellite fix; target height and prism constant; antenna and base height; the geoid of base and machine",
            vec![shift("shift in height", [0.0, 0.0, 1.0], "all heights are shown {} too high", "all heights are shown {} too low")],
        );
    }
    if has(0) && has(1) {
        list.add(
            "shift.plan",
            "shift.plan",
            "plan shifted: control, satellite fix or base station, or localization",
            "a rover on a control point; the same shot again after an hour, for the satellite fix; coordinates of the base and of the station; the localization in use",
            vec![
                shift("shift east", [1.0, 0.0, 0.0], "all is shown {} too far east", "all is shown {} too far west"),
                shift("shift north", [0.0, 1.0, 0.0], "and {} too far north", "and {} too far south"),
            ],
        );
        list.add_given(
            "survey.swapped",
            "easting and northing swapped",
            "the order of the columns in the survey's file",
            Change::SurveySwapped,
            "easting and northing of the survey stand in each other's place".to_owned(),
        );
    }
    feet(list);
}

/// 1 US survey foot in international feet: 1200/3937 m over 0.3048 m.
const SURVEY_FOOT: f64 = 1200.0 / 3937.0 / 0.3048;

fn feet(list: &mut List) {
    let look = "the unit named in the header of the survey's and the control's files: metre, international foot, US survey foot";
    let foot = 0.3048;
    for (id, factors, words, says) in [
        (
            "survey.feet",
            [foot; 3],
            "survey in feet",
            "the survey is in feet and was taken as metres",
        ),
        (
            "survey.metres",
            [1.0 / foot; 3],
            "survey turned from feet by mistake",
            "the survey was in metres and was turned from feet",
        ),
        (
            "survey.feet_up",
            [1.0, 1.0, foot],
            "elevations in feet",
            "the elevations of the survey are in feet and were taken as metres",
        ),
        (
            "survey.us_foot",
            [SURVEY_FOOT, SURVEY_FOOT, 1.0],
            "US survey foot and international foot mixed",
            "the survey was turned into metres by the international foot, the US survey foot was meant",
        ),
        (
            "survey.intl_foot",
            [1.0 / SURVEY_FOOT, 1.0 / SURVEY_FOOT, 1.0],
            "US survey foot and international foot mixed",
            "the survey was turned into metres by the US survey foot, the international foot was meant",
        ),
    ] {
        list.add_given(
            id,
            words,
            look,
            Change::SurveyScaled(factors),
            says.to_owned(),
        );
    }
}

pub(super) fn motion(scene: &Scene, list: &mut List) {
    if scene.has_velocities() {
        let said = Said {
            name: "lag",
            unit: Unit::Second,
            plus: "what is shown is {} late".to_owned(),
            minus: "what is shown is {} early".to_owned(),
            usual: 2.0,
        };
        list.add(
            "late",
            "late",
            "time lag",
            "the same mark with the tooth at rest and sweeping; filters and latencies of the sensors",
            vec![sized(Direction::Late, said)],
        );
    } else {
        list.not_tried.push(NotTried {
            words: "time lag".to_owned(),
            needs: "shots with the tooth moving, and its speed".to_owned(),
        });
    }
    if scene.has_both_holds() {
        let said = Said {
            name: "play",
            unit: Unit::Metre,
            plus: "the tooth stands {} higher under load and hangs as much lower".to_owned(),
            minus: "the tooth stands {} lower under load and hangs as much higher, which play does not do".to_owned(),
            usual: 0.05,
        };
        list.add(
            "play",
            "play",
            "play in the pins",
            "rock the bucket on a mark, lifting and lowering; a dial gauge at each pin",
            vec![sized(Direction::Play, said)],
        );
    } else {
        list.not_tried.push(NotTried {
            words: "play in the pins".to_owned(),
            needs:
                "shots with the tooth standing on the ground, and others with the bucket hanging"
                    .to_owned(),
        });
    }
}

pub(super) fn one_shot(scene: &Scene, list: &mut List) {
    if scene.n_shots() < 3 {
        return; // of two that disagree, nobody can say which
    }
    for shot_idx in 0..scene.n_shots() {
        let axes = scene
            .rows
            .iter()
            .filter(|(of, _)| *of == shot_idx)
            .map(|(_, axis)| *axis);
        let sizes = axes
            .map(|axis| {
                let word = ["east", "north", "up"][axis];
                let said = Said {
                    name: word,
                    unit: Unit::Metre,
                    plus: format!("{{}} too far {word}"),
                    minus: format!("{{}} too far {}", ["west", "south", "down"][axis]),
                    usual: f64::INFINITY,
                };
                sized(Direction::OneShot { shot_idx, axis }, said)
            })
            .collect();
        let name = scene.shot_name(shot_idx);
        let id = format!("shot[{name}]");
        list.add(
            &id,
            &id,
            &format!("shot {name} alone is off"),
            "repeat that shot: target height, prism constant, which tooth, which mark, fixed position or not",
            sizes,
        );
    }
}
