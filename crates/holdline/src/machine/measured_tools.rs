//! Couplers, tilting devices, buckets, sensors, antennas and cameras: every figure plausible.

use super::claim::{
    ClaimedBody, ClaimedBucket, ClaimedCoupler, ClaimedMachine, ClaimedSensor, ClaimedTilt, Link,
    SensorKind,
};
use super::cylinder::link_word;
use super::measured_up::{angle, length, plane, space};
use super::spans;
use holdline_geom::fault::{Fault, Faults};
use holdline_geom::hull;

/// Couplers, tilting devices, buckets.
pub(super) fn check_tools(sheet: &ClaimedMachine, faults: &mut Faults) {
    for coupler in &sheet.couplers {
        check_coupler(coupler, faults);
    }
    for tilt in &sheet.tilts {
        check_tilt(tilt, faults);
    }
    if sheet.buckets.is_empty() {
        faults.push(Fault::new(
            "M047",
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

fn check_coupler(coupler: &ClaimedCoupler, faults: &mut Faults) {
    let at = format!("coupler[{}]", coupler.id);
    let pin = &coupler.front_pin;
    plane(faults, &format!("{at}.front_pin"), pin, &spans::COUPLER_PIN);
    let turn = &coupler.rotation;
    angle(faults, &format!("{at}.rotation"), turn, &spans::TOOL_ANGLE);
    check_body(&coupler.body, &at, faults);
}

fn check_tilt(tilt: &ClaimedTilt, faults: &mut Faults) {
    let at = format!("tilt[{}]", tilt.id);
    let (pin, turn) = (&spans::COUPLER_PIN, &spans::TOOL_ANGLE);
    space(faults, &format!("{at}.axis_at"), &tilt.axis_at, pin);
    space(faults, &format!("{at}.front_pin"), &tilt.front_pin, pin);
    angle(faults, &format!("{at}.axis_angle"), &tilt.axis_angle, turn);
    let bucket = &tilt.bucket_rotation;
    angle(faults, &format!("{at}.bucket_rotation"), bucket, turn);
    if let Some(rotation) = &tilt.rotation {
        let at = format!("{at}.rotation");
        space(faults, &format!("{at}.axis_at"), &rotation.axis_at, pin);
        angle(
            faults,
            &format!("{at}.axis_angle"),
            &rotation.axis_angle,
            turn,
        );
    }
    check_body(&tilt.body, &at, faults);
}

fn check_body(body: &ClaimedBody, at: &str, faults: &mut Faults) {
    check_plane_places(&body.outline_m, &format!("{at}.outline"), faults);
    check_plane_places(body.centre_m.as_slice(), &format!("{at}.centre"), faults);
    if let Some(half_m) = body.half_width_m {
        faults.keep(spans::SOLID_SIZE.check(&format!("{at}.half_width"), half_m));
    }
    if let Some(mass) = &body.mass {
        faults.keep(spans::PART_MASS.check(&format!("{at}.mass"), mass.value));
    }
}

/// Bare places in a plane: each a number, and not in millimetres.
pub(super) fn check_plane_places(places_m: &[[f64; 2]], at: &str, faults: &mut Faults) {
    for value in places_m.iter().flatten() {
        faults.keep(spans::PLACE.check(at, *value));
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
    check_bucket_body(bucket, &at, faults);
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

/// Everything of a bucket that is not its edge.
fn check_bucket_body(bucket: &ClaimedBucket, at: &str, faults: &mut Faults) {
    for value in bucket.edge_m.iter().flatten() {
        faults.keep(spans::PLACE.check(&format!("{at}.edge"), *value));
    }
    check_plane_places(&bucket.outline_m, &format!("{at}.outline"), faults);
    check_plane_places(bucket.centre_m.as_slice(), &format!("{at}.centre"), faults);
    let inner = &bucket.side_profile_inner_m;
    check_plane_places(inner, &format!("{at}.side_profile_inner"), faults);
    let load = bucket.load_centre_m.as_slice();
    check_plane_places(load, &format!("{at}.load_centre"), faults);
    if let Some(eye) = &bucket.eye {
        plane(faults, &format!("{at}.eye"), eye, &spans::TOOTH_ALONG);
    }
    if let Some(width_m) = bucket.inner_width_m {
        faults.keep(spans::BUCKET_WIDTH.check(&format!("{at}.inner_width"), width_m));
    }
    if let Some(mass) = &bucket.mass {
        faults.keep(spans::PART_MASS.check(&format!("{at}.mass"), mass.value));
    }
    check_tips_inside(bucket, at, faults);
}

/// The bucket's solid is its outline over its width: a tip outside it would be watched by nobody.
fn check_tips_inside(bucket: &ClaimedBucket, at: &str, faults: &mut Faults) {
    const ROUNDING_M: f64 = 1e-3; // what rounding to millimetres on the sheet may do
    if bucket.outline_m.len() < 3 {
        return; // said elsewhere
    }
    let half_m = bucket.width.value / 2.0;
    for tooth in &bucket.teeth {
        let [x, y, z] = [&tooth.at.x, &tooth.at.y, &tooth.at.z].map(|c| c.value);
        let out_m = hull::distance_outside(&bucket.outline_m, [x, z]).max(y.abs() - half_m);
        if !(out_m <= ROUNDING_M) && out_m.is_finite() {
            faults.push(Fault::new(
                "M066",
                format!("{at}.tooth[{}].at", tooth.name),
                format!("a tip {:.0} mm outside the bucket's solid", out_m * 1000.0),
                "every tip inside the outline, and no further out than half the width",
                "widen the outline or the width: they stand for the steel in every clearance",
            ));
        }
    }
}

/// Sensors, antennas, cameras.
pub(super) fn check_fit_out(sheet: &ClaimedMachine, faults: &mut Faults) {
    for sensor in &sheet.sensors {
        check_sensor(sensor, faults);
    }
    check_sensors_apart(&sheet.sensors, faults);
    if let Some(offset) = &sheet.heading_offset {
        angle(faults, "heading.offset", offset, &spans::SENSOR_OFFSET);
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
        let at = format!("camera[{}]", camera.id);
        space(faults, &format!("{at}.at"), &camera.at, &spans::LEVER);
        for (name, value_rad) in [
            ("yaw", camera.yaw_rad),
            ("pitch_down", camera.pitch_down_rad),
            ("hfov", camera.hfov_rad),
            ("vfov", camera.vfov_rad),
        ] {
            faults.keep(spans::CAMERA_ANGLE.check(&format!("{at}.{name}"), value_rad.to_degrees()));
        }
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
    let offset = &spans::SENSOR_OFFSET;
    angle(faults, &format!("{at}.offset"), &sensor.offset, offset);
    if let Some(roll) = &sensor.roll_offset {
        angle(faults, &format!("{at}.roll_offset"), roll, offset);
    }
    faults.keep(spans::TOOL_ANGLE.check(&format!("{at}.mount"), sensor.mount_rad.to_degrees()));
    if let Some(sd) = sensor.sd_rad {
        faults.keep(spans::SENSOR_SD.check(&format!("{at}.sd"), sd.to_degrees()));
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
    let house = sensor.kind.is_house();
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

/// Two sensors that would give one and the same angle: nobody has said which is right.
fn check_sensors_apart(sensors: &[ClaimedSensor], faults: &mut Faults) {
    for (idx, sensor) in sensors.iter().enumerate() {
        let same = |other: &&ClaimedSensor| {
            other.link == sensor.link && other.kind.is_house() == sensor.kind.is_house()
        };
        if let Some(first) = sensors[..idx].iter().find(same) {
            faults.push(Fault::new(
                "M087",
                format!("sensor[{}].link", sensor.id),
                format!("a second sensor there, beside {}", first.id),
                "one sensor a link",
                "keep the one whose readings are to be used; the other would be passed over without a word",
            ));
        }
    }
}
