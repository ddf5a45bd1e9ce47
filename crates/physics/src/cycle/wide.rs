//! Batches in eight lanes, on wide registers where the processor has them.

use digits::lanes::Eight;
#[cfg(target_arch = "x86_64")]
use digits::lanes::EightAvx2;

use super::errors::CycleError;
use super::leak_lanes::{LeakLanes, LeakLaw};
use super::lockstep::run;
use super::program::Program;
use super::simulate::CycleOutcome;

type Answers = Vec<Result<CycleOutcome, CycleError>>;

/// Runs all programs in eight lanes; answers in their order.
///
/// The code is compiled twice, for the plain processor and for AVX2; both do
/// the same operations without fused multiply-add, so the digits agree.
///
/// Programs with leaks alike run beside each other, because a branch that one
/// lane needs is computed for all; no digit depends on it.
pub(super) fn run_in_lanes<L: LeakLaw>(
    programs: Vec<Program<L::Lane>>,
    want_trace: bool,
) -> Answers {
    in_order_of_strength::<L>(programs, |sorted| run_widest::<L>(sorted, want_trace))
}

/// As [`run_in_lanes`], on the instructions of the plain build.
pub(super) fn run_plain_lanes<L: LeakLaw>(
    programs: Vec<Program<L::Lane>>,
    want_trace: bool,
) -> Answers {
    in_order_of_strength::<L>(programs, |sorted| run_plain::<L>(sorted, want_trace))
}

fn in_order_of_strength<L: LeakLaw>(
    programs: Vec<Program<L::Lane>>,
    run: impl Fn(&[Program<L::Lane>]) -> Answers,
) -> Answers {
    let strength = |program: &Program<L::Lane>| {
        program.leak.as_ref().map_or(0.0, L::In::<Eight>::strength) / program.constants.headspace_m3
    };
    let mut sorted: Vec<(usize, Program<L::Lane>)> = programs.into_iter().enumerate().collect();
    sorted.sort_by(|a, b| strength(&a.1).total_cmp(&strength(&b.1)));
    let (places, sorted): (Vec<usize>, Vec<_>) = sorted.into_iter().unzip();
    let mut answers: Vec<(usize, _)> = places.into_iter().zip(run(&sorted)).collect();
    answers.sort_by_key(|answer| answer.0);
    answers.into_iter().map(|answer| answer.1).collect()
}

fn run_widest<L: LeakLaw>(programs: &[Program<L::Lane>], want_trace: bool) -> Answers {
    #[cfg(target_arch = "x86_64")]
    {
        if std::arch::is_x86_feature_detected!("avx2") {
            return run_avx2::<L>(programs, want_trace);
        }
    }
    run_plain::<L>(programs, want_trace)
}

/// Runs one program.
pub(super) fn run_alone<L: LeakLaw>(program: Program<L::Lane>) -> Answers {
    let programs = [program];
    #[cfg(target_arch = "x86_64")]
    {
        if std::arch::is_x86_feature_detected!("avx2") {
            return run_alone_avx2::<L>(&programs);
        }
    }
    run::<f64, L::In<f64>, Eight>(&programs, true)
}

/// The eight lanes on the instructions of the plain build.
fn run_plain<L: LeakLaw>(programs: &[Program<L::Lane>], want_trace: bool) -> Answers {
    run::<Eight, L::In<Eight>, Eight>(programs, want_trace)
}

/// As [`run_avx2`], for one program.
#[cfg(target_arch = "x86_64")]
#[allow(unsafe_code)]
fn run_alone_avx2<L: LeakLaw>(programs: &[Program<L::Lane>]) -> Answers {
    #[target_feature(enable = "avx2")]
    fn inner<L: LeakLaw>(programs: &[Program<L::Lane>]) -> Answers {
        run::<f64, L::In<f64>, EightAvx2>(programs, true)
    }
    // SAFETY: as in `run_avx2`.
    unsafe { inner::<L>(programs) }
}

/// Calls the AVX2 copy; only after its presence was checked.
#[cfg(target_arch = "x86_64")]
#[allow(unsafe_code)]
fn run_avx2<L: LeakLaw>(programs: &[Program<L::Lane>], want_trace: bool) -> Answers {
    #[target_feature(enable = "avx2")]
    fn inner<L: LeakLaw>(programs: &[Program<L::Lane>], want_trace: bool) -> Answers {
        run::<EightAvx2, L::In<EightAvx2>, EightAvx2>(programs, want_trace)
    }
    // SAFETY: the only caller checks at run time that the processor has AVX2,
    // which is all that this function's contract asks for; it takes and
    // returns ordinary safe references and values.
    unsafe { inner::<L>(programs, want_trace) }
}
