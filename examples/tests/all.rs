//! Every example runs to its end.

#[path = "../07-budget.rs"]
mod budget;
#[path = "../05-calibrate.rs"]
mod calibrate;
#[path = "../08-hand-over.rs"]
mod hand_over;
#[path = "../01-measure-up.rs"]
mod measure_up;
#[path = "../04-morning-check.rs"]
mod morning_check;
#[path = "../03-prove-the-tooth.rs"]
mod prove_the_tooth;
#[path = "../02-tooth.rs"]
mod tooth;
#[path = "../06-what-drifted.rs"]
mod what_drifted;

#[test]
fn every_example_runs() {
    measure_up::main().expect("the demo sheet is sound");
    tooth::main().expect("the demo readings are sound");
    prove_the_tooth::main();
    morning_check::main();
    calibrate::main().expect("the demo's tape day is sound");
    what_drifted::main().expect("the demo's knocked shots are sound");
    budget::main().expect("the demo states every uncertainty");
    hand_over::main().expect("the demo's terms are sound");
}
