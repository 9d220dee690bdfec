//! Every example runs to its end.

#[path = "../01-measure-up.rs"]
mod measure_up;
#[path = "../04-morning-check.rs"]
mod morning_check;
#[path = "../03-prove-the-tooth.rs"]
mod prove_the_tooth;
#[path = "../02-tooth.rs"]
mod tooth;

#[test]
fn every_example_runs() {
    measure_up::main().expect("the demo sheet is sound");
    tooth::main().expect("the demo readings are sound");
    prove_the_tooth::main();
    morning_check::main();
}
