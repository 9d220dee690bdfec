use super::{BudgetAsk, BudgetBody, Work};
use holdline::machine::Machine;
use holdline_geom::fault::Faults;
pub(super) fn budget(_: &Machine, _: &BudgetAsk, _: &Work<'_>) -> Result<BudgetBody, Faults> {
    crate::stub::not_yet()
}
