use super::ask::NextAsk;
use super::job::ReadObservations;
use super::next_view::NextView;
use crate::units::Units;
use holdline::machine::Machine;
use holdline_geom::fault::Faults;
pub(super) fn next(
    _: &Machine,
    _: &NextAsk,
    _: &[ReadObservations],
    _: Units,
) -> Result<NextView, Faults> {
    crate::stub::not_yet()
}
