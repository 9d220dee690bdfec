//! What the machine's dimensions and sensors are, from what was measured: fit, next poses, hand-over.

mod alone;
mod apply;
mod ask;
mod body;
mod fit;
mod hand_over;
mod hand_over_body;
mod job;
mod names;
mod next;
mod next_view;
mod view;

pub(crate) use alone::alone_words;
pub(crate) use apply::for_another_tool;
pub use apply::{calibrated, other_tool, same_tool};
pub use ask::{CalibrateAsk, HandOverAsk, NextAsk};
pub use body::{
    AloneBody, AloneFigureBody, CountsIn, FitBody, FittedBody, GlobalBody, MeasuredPoseBody, Part,
    ResidualBody, State, ToothSureBody,
};
pub use hand_over_body::{
    CAUTION_HAND_OVER, EntryBody, EntryView, HandOverBody, HandOverDrawings, HandOverView,
    ProofBody, ProofView, hand_over_view,
};
pub(crate) use hand_over_body::{exact_text, joints_text, proof_pose_text};
pub use job::{CALIBRATE_KIND, HAND_OVER_KIND, Looked, RecordedCalibration};
pub use names::figure_label;
pub use next_view::{CAUTION_NEXT, NextPoseView, NextView};
pub use view::{
    CAUTION_CALIBRATION, FitDrawings, FitView, FittedView, ResidualRowView, Seen, ToothSureView,
    figure_rows, fit_view,
};
pub(crate) use view::{global_words, outcome_words, some_of};
