use super::ask::CalibrateAsk;
use super::body::FitBody;
use super::job::ReadObservations;
use holdline::calibrate::calibration::Calibration;
use holdline::machine::Machine;
use holdline_geom::fault::Faults;
pub(super) fn fit(
    _: &Machine,
    _: &CalibrateAsk,
    _: &[ReadObservations],
) -> Result<(FitBody, Calibration), Faults> {
    crate::stub::not_yet()
}
