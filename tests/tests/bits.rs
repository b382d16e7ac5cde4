//! Same plan, same seed: same bits, on any number of threads.

use kerfwise_plan::demo;
use kerfwise_stack::MonteCarlo;

#[test]
fn threads_change_no_bit() {
    let plan = demo().expect("the built-in plan is sound");
    let run = |threads| {
        let options = MonteCarlo::new().trials(100_001).seed(42).threads(threads);
        plan.stack()
            .monte_carlo(options)
            .expect("the built-in plan runs")
    };
    let one = run(1);
    assert_eq!(one, run(2));
    assert_eq!(one, run(5));
    let other = plan
        .stack()
        .monte_carlo(MonteCarlo::new().trials(100_001).seed(43))
        .expect("runs");
    assert_ne!(
        one.outcomes[0].mean, other.outcomes[0].mean,
        "another seed draws other trials"
    );
}

#[test]
fn adaptive_runs_are_the_same_on_any_number_of_threads() {
    let plan = demo().expect("the built-in plan is sound");
    let run = |threads| {
        let options = MonteCarlo::new()
            .trials(2_000_000)
            .adaptive(2)
            .seed(3)
            .threads(threads);
        plan.stack()
            .monte_carlo(options)
            .expect("the built-in plan runs")
    };
    assert_eq!(run(1), run(5));
}
