//! From claimed to checked: every figure plausible, every pin closes, every range follows.

use super::Machine;
use super::claim::{
    ClaimedBoomKind, ClaimedBucket, ClaimedMachine, ClaimedSensor, Joint, Link, PlanePoint,
    SensorKind, SpacePoint,
};
use super::cylinder::{self, CylinderTriangle, JointRange, link_word};
use super::four_bar::FourBar;
use super::spans;
use holdline_geom::fault::{Fault, Faults, Span};
use holdline_geom::measured::Measured;

/// The checked machine, or all that is wrong with the sheet.
pub(super) fn checked(sheet: ClaimedMachine) -> Result<Machine, Faults> {
    let mut faults = Faults::none();
    check_house_and_tracks(&sheet, &mut faults);
    check_boom_and_stick(&sheet, &mut faults);
    check_linkage(&sheet, &mut faults);
    check_tools(&sheet, &mut faults);
    check_fit_out(&sheet, &mut faults);
    let (ranges, triangles) = strokes(&sheet, &mut faults);
    faults.or(Machine {
        sheet,
        ranges,
        triangles,
    })
}

fn check_house_and_tracks(sheet: &ClaimedMachine, faults: &mut Faults) {
    if sheet.id.trim().is_empty() {
        faults.push(Fault::new(
            "M002",
            "machine.id",
            "nothing",
            "a name",
            "give the machine the name it has on the job",
        ));
    }
    if let Some(mass) = &sheet.mass_kg {
        faults.keep(spans::MASS.check("machine.mass", mass.value));
    }
    let tracks = &sheet.tracks;
    length(
        faults,
        "tracks.length",
        &tracks.length,
        &spans::TRACK_LENGTH,
    );
    length(faults, "tracks.gauge", &tracks.gauge, &spans::GAUGE);
    length(
        faults,
        "tracks.shoe_width",
        &tracks.shoe_width,
        &spans::SHOE,
    );
    length(
        faults,
        "tracks.height",
        &tracks.height,
        &spans::TRACK_HEIGHT,
    );
    length(
        faults,
        "house.tail_radius",
        &sheet.house.tail_radius,
        &spans::TAIL_RADIUS,
    );
}

fn check_boom_and_stick(sheet: &ClaimedMachine, faults: &mut Faults) {
    match (&sheet.swing_post, &sheet.boom.foot) {
        (None, None) => faults.push(Fault::new(
            "M020",
            "boom.foot",
            "no boom foot pin",
            "boom.foot, or a [swing_post] that carries the boom",
            "measure the boom foot pin from the swing axis and the track ground level",
        )),
        (Some(_), Some(_)) => faults.push(Fault::new(
            "M021",
            "boom.foot",
            "a boom foot pin in the house and a swing post",
            "one of the two",
            "with a swing post give the foot pin from the post, in swing_post.foot",
        )),
        (None, Some(foot)) => {
            length(faults, "boom.foot.x", &foot.x, &spans::FOOT_FORWARD);
            length(faults, "boom.foot.y", &foot.y, &spans::FOOT_SIDE);
            length(faults, "boom.foot.z", &foot.z, &spans::FOOT_UP);
        }
        (Some(post), None) => {
            space(faults, "swing_post.at", &post.at, &spans::FOOT_FORWARD);
            space(faults, "swing_post.foot", &post.foot, &spans::FOOT_FORWARD);
        }
    }
    match &sheet.boom.kind {
        ClaimedBoomKind::Mono { length: boom } => {
            length(faults, "boom.length", boom, &spans::BOOM_LENGTH)
        }
        ClaimedBoomKind::TwoPiece { lower, upper } => {
            length(faults, "boom.lower", lower, &spans::BOOM_PART);
            length(faults, "boom.upper", upper, &spans::BOOM_PART);
        }
        ClaimedBoomKind::Offset { lower, link, upper } => {
            length(faults, "boom.lower", lower, &spans::BOOM_PART);
            length(faults, "boom.offset_link", link, &spans::BOOM_PART);
            length(faults, "boom.upper", upper, &spans::BOOM_PART);
        }
    }
    length(
        faults,
        "stick.length",
        &sheet.stick.length,
        &spans::STICK_LENGTH,
    );
}

fn check_linkage(sheet: &ClaimedMachine, faults: &mut Faults) {
    let linkage = &sheet.linkage;
    length(
        faults,
        "linkage.idler_pivot.x",
        &linkage.idler_pivot.x,
        &spans::IDLER_PIVOT,
    );
    length(
        faults,
        "linkage.idler_pivot.z",
        &linkage.idler_pivot.z,
        &spans::IDLER_PIVOT_Z,
    );
    length(
        faults,
        "linkage.idler",
        &linkage.idler,
        &spans::LINKAGE_LENGTH,
    );
    length(
        faults,
        "linkage.link",
        &linkage.link,
        &spans::LINKAGE_LENGTH,
    );
    length(faults, "linkage.ear", &linkage.ear, &spans::LINKAGE_LENGTH);
    // Four sides close when the longest is shorter than the other three together.
    let (x, z) = (
        linkage.idler_pivot.x.value - sheet.stick.length.value,
        linkage.idler_pivot.z.value,
    );
    let sides = [
        x.hypot(z),
        linkage.idler.value,
        linkage.link.value,
        linkage.ear.value,
    ];
    let longest = sides.iter().copied().fold(0.0, f64::max);
    let rest = sides.iter().sum::<f64>() - longest;
    if !(longest < rest) {
        faults.push(Fault::new(
            "M033",
            "linkage",
            format!(
                "sides {:.3}, {:.3}, {:.3}, {:.3} m",
                sides[0], sides[1], sides[2], sides[3]
            ),
            "the longest side shorter than the other three together",
            "one of idler pivot, idler, link and ear is mistyped: look for transposed digits",
        ));
    }
}

fn check_tools(sheet: &ClaimedMachine, faults: &mut Faults) {
    for coupler in &sheet.couplers {
        let at = format!("coupler[{}]", coupler.id);
        plane(
            faults,
            &format!("{at}.front_pin"),
            &coupler.front_pin,
            &spans::COUPLER_PIN,
        );
        angle_sd(faults, &format!("{at}.rotation"), &coupler.rotation);
    }
    for tilt in &sheet.tilts {
        let at = format!("tilt[{}]", tilt.id);
        space(
            faults,
            &format!("{at}.axis_at"),
            &tilt.axis_at,
            &spans::COUPLER_PIN,
        );
        space(
            faults,
            &format!("{at}.front_pin"),
            &tilt.front_pin,
            &spans::COUPLER_PIN,
        );
        angle_sd(faults, &format!("{at}.axis_angle"), &tilt.axis_angle);
        if let Some(rotation) = &tilt.rotation {
            space(
                faults,
                &format!("{at}.rotation.axis_at"),
                &rotation.axis_at,
                &spans::COUPLER_PIN,
            );
        }
    }
    if sheet.buckets.is_empty() {
        faults.push(Fault::new(
            "M042",
            "bucket",
            "no bucket",
            "at least one [[bucket]]",
            "measure the bucket that will be used first",
        ));
    }
    for bucket in &sheet.buckets {
        check_bucket(bucket, faults);
    }
}

fn check_bucket(bucket: &ClaimedBucket, faults: &mut Faults) {
    let at = format!("bucket[{}]", bucket.id);
    length(
        faults,
        &format!("{at}.width"),
        &bucket.width,
        &spans::BUCKET_WIDTH,
    );
    length(
        faults,
        &format!("{at}.pin_spacing"),
        &bucket.pin_spacing,
        &spans::PIN_SPACING,
    );
    plane(
        faults,
        &format!("{at}.heel"),
        &bucket.heel,
        &spans::TOOTH_ALONG,
    );
    for wanted in ["left", "centre", "right"] {
        if !bucket.teeth.iter().any(|tooth| tooth.name == wanted) {
            faults.push(Fault::new(
                "M043",
                format!("{at}.tooth"),
                format!("no tooth point {wanted:?}"),
                "left, centre and right, seen from the operator's seat",
                "measure both corners of the edge and its middle",
            ));
        }
    }
    for tooth in &bucket.teeth {
        space(
            faults,
            &format!("{at}.tooth[{}].at", tooth.name),
            &tooth.at,
            &spans::TOOTH_ALONG,
        );
    }
    let y = |name: &str| {
        bucket
            .teeth
            .iter()
            .find(|tooth| tooth.name == name)
            .map(|tooth| tooth.at.y.value)
    };
    if let (Some(left), Some(right)) = (y("left"), y("right"))
        && !(right < left)
    {
        faults.push(Fault::new(
            "M044",
            format!("{at}.tooth[left].at"),
            format!("left at y {left} m, right at y {right} m"),
            "left further to the left (larger y) than right, seen from the operator's seat",
            "swap the two: y counts to the left",
        ));
    }
    if bucket.outline_m.len() < 3 {
        faults.push(Fault::new(
            "M046",
            format!("{at}.outline"),
            format!("{} corners", bucket.outline_m.len()),
            "at least 3 corners, in order round the bucket",
            "measure the outline of the side plate; it must contain all steel",
        ));
    }
}

fn check_fit_out(sheet: &ClaimedMachine, faults: &mut Faults) {
    for sensor in &sheet.sensors {
        check_sensor(sensor, faults);
    }
    for antenna in &sheet.antennas {
        space(
            faults,
            &format!("antenna[{}].lever", antenna.id),
            &antenna.lever,
            &spans::LEVER,
        );
    }
    for camera in &sheet.cameras {
        space(
            faults,
            &format!("camera[{}].at", camera.id),
            &camera.at,
            &spans::LEVER,
        );
    }
}

/// Which links a kind of sensor can sit on. A new kind of sensor gets its row here.
fn links_for(kind: SensorKind) -> &'static [Link] {
    match kind {
        SensorKind::TwoAxis | SensorKind::SingleAxis => &[
            Link::Boom,
            Link::BoomUpper,
            Link::Stick,
            Link::Idler,
            Link::Ear,
        ],
        SensorKind::JointEncoder => &[
            Link::House,
            Link::Post,
            Link::Boom,
            Link::BoomUpper,
            Link::Stick,
            Link::Idler,
            Link::Ear,
            Link::Tilt,
            Link::Bucket,
        ],
        SensorKind::HouseEuler | SensorKind::HouseTilts => &[Link::House],
    }
}

fn check_sensor(sensor: &ClaimedSensor, faults: &mut Faults) {
    let at = format!("sensor[{}]", sensor.id);
    let links = links_for(sensor.kind);
    if !links.contains(&sensor.link) {
        let words: Vec<&str> = links.iter().map(|link| link_word(*link)).collect();
        faults.push(Fault::new(
            "M084",
            format!("{at}.link"),
            format!("a sensor of this kind on {}", link_word(sensor.link)),
            words.join(", "),
            "choose the link the sensor sits on, or its kind, again",
        ));
    }
    faults.keep(spans::SENSOR_OFFSET.check(&format!("{at}.offset"), sensor.offset.value));
    angle_sd(faults, &format!("{at}.offset"), &sensor.offset);
    if let Some(sd) = sensor.sd_rad {
        faults.keep(spans::SENSOR_SD.check(&format!("{at}.sd"), sd));
    }
    if let Some(latency) = sensor.latency_s {
        faults.keep(spans::LATENCY.check(&format!("{at}.latency_ms"), latency));
    }
    if sensor.sign != 1.0 && sensor.sign != -1.0 {
        faults.push(Fault::new(
            "M085",
            format!("{at}.sign"),
            format!("{}", sensor.sign),
            "1 or -1",
            "1 counts upward, -1 counts downward",
        ));
    }
    let house = matches!(sensor.kind, SensorKind::HouseEuler | SensorKind::HouseTilts);
    if house && sensor.roll_offset.is_none() {
        faults.push(Fault::new(
            "M086",
            format!("{at}.roll_offset"),
            "none",
            "an offset for roll beside the one for pitch",
            "read the house in two faces, 180° apart: half the sum is the offset",
        ));
    }
}

fn strokes(
    sheet: &ClaimedMachine,
    faults: &mut Faults,
) -> (Vec<JointRange>, Vec<CylinderTriangle>) {
    let linkage = FourBar {
        pivot_m: [
            sheet.linkage.idler_pivot.x.value,
            sheet.linkage.idler_pivot.z.value,
        ],
        idler_m: sheet.linkage.idler.value,
        link_m: sheet.linkage.link.value,
        ear_m: sheet.linkage.ear.value,
        branch: sheet.linkage.branch,
    };
    let (mut ranges, mut triangles) = (Vec::new(), Vec::new());
    for (idx, claimed) in sheet.cylinders.iter().enumerate() {
        let at = format!("cylinder[{}]", idx + 1);
        let before = faults.0.len();
        length(
            faults,
            &format!("{at}.retracted"),
            &claimed.retracted,
            &spans::STROKE,
        );
        length(
            faults,
            &format!("{at}.extended"),
            &claimed.extended,
            &spans::STROKE,
        );
        faults.keep(spans::STROKE_TOLERANCE.check(
            &format!("{at}.stroke_tolerance"),
            claimed.stroke_tolerance_m,
        ));
        faults.keep(spans::COUNT.check(&format!("{at}.count"), f64::from(claimed.count)));
        if !(claimed.retracted.value < claimed.extended.value) {
            faults.push(Fault::new(
                "M053",
                format!("{at}.extended"),
                format!(
                    "{} m in, {} m out",
                    claimed.retracted.value, claimed.extended.value
                ),
                "longer out than in",
                "swap the two, or measure the stroke again",
            ));
        }
        if ranges
            .iter()
            .any(|range: &JointRange| range.joint == claimed.moves)
        {
            faults.push(twice(&at, claimed.moves));
        }
        if before == faults.0.len() {
            let made = cylinder::triangle(sheet, claimed, &at)
                .and_then(|triangle| Ok((triangle, cylinder::range(sheet, &linkage, idx, &at)?)));
            if let Some((triangle, range)) = faults.keep(made) {
                triangles.push(triangle);
                ranges.push(range);
            }
        }
    }
    for (idx, stated) in sheet.ranges.iter().enumerate() {
        let at = format!("range[{}]", idx + 1);
        if ranges.iter().any(|range| range.joint == stated.joint) {
            faults.push(twice(&at, stated.joint));
        }
        let sound = stated.min_rad < stated.max_rad && 0.0 <= stated.tolerance_rad;
        if !sound {
            faults.push(Fault::new(
                "M063",
                at,
                format!(
                    "{:.1}° to {:.1}°",
                    stated.min_rad.to_degrees(),
                    stated.max_rad.to_degrees()
                ),
                "min below max, and a tolerance of 0 or more",
                "swap the two, or read the range off the machine again",
            ));
            continue;
        }
        ranges.push(JointRange {
            joint: stated.joint,
            nominal_rad: [stated.min_rad, stated.max_rad],
            outer_rad: [
                stated.min_rad - stated.tolerance_rad,
                stated.max_rad + stated.tolerance_rad,
            ],
            cylinder_idx: None,
        });
    }
    (ranges, triangles)
}

fn twice(at: &str, joint: Joint) -> Fault {
    Fault::new(
        "M064",
        at,
        format!("a second range for {}", joint.word()),
        "one cylinder or one [[range]] a joint",
        "cylinders in parallel are one entry with their count",
    )
}

fn length(faults: &mut Faults, at: &str, value: &Measured, span: &Span) {
    faults.keep(span.check(at, value.value));
    if let Some(sd) = value.sd {
        faults.keep(spans::SD_LENGTH.check(&format!("{at}.sd"), sd));
    }
}

fn angle_sd(faults: &mut Faults, at: &str, value: &Measured) {
    if let Some(sd) = value.sd {
        faults.keep(spans::SD_ANGLE.check(&format!("{at}.sd"), sd));
    }
}

fn plane(faults: &mut Faults, at: &str, p: &PlanePoint, span: &Span) {
    length(faults, &format!("{at}.x"), &p.x, span);
    length(faults, &format!("{at}.z"), &p.z, span);
}

fn space(faults: &mut Faults, at: &str, p: &SpacePoint, span: &Span) {
    length(faults, &format!("{at}.x"), &p.x, span);
    length(faults, &format!("{at}.y"), &p.y, span);
    length(faults, &format!("{at}.z"), &p.z, span);
}
