//! Batches in eight lanes, on wide registers where the processor has them.

use digits::lanes::Eight;

use super::errors::CycleError;
use super::leak_lanes::LeakLanes;
use super::lockstep::run;
use super::program::Program;
use super::simulate::CycleOutcome;

type Answers = Vec<Result<CycleOutcome, CycleError>>;

/// Runs all programs in eight lanes; answers in their order.
///
/// The code is compiled twice, for the plain processor and for AVX2; both do
/// the same operations without fused multiply-add, so the digits agree.
pub(super) fn run_in_lanes<L: LeakLanes<Eight>>(
    programs: &[Program<L::Lane>],
    want_trace: bool,
) -> Answers {
    #[cfg(target_arch = "x86_64")]
    {
        if std::arch::is_x86_feature_detected!("avx2") {
            return run_avx2::<L>(programs, want_trace);
        }
    }
    run_plain::<L>(programs, want_trace)
}

/// The eight lanes on the instructions of the plain build.
pub(super) fn run_plain<L: LeakLanes<Eight>>(
    programs: &[Program<L::Lane>],
    want_trace: bool,
) -> Answers {
    run::<Eight, L>(programs, want_trace)
}

/// Calls the AVX2 copy; only after its presence was checked.
#[cfg(target_arch = "x86_64")]
#[allow(unsafe_code)]
fn run_avx2<L: LeakLanes<Eight>>(programs: &[Program<L::Lane>], want_trace: bool) -> Answers {
    #[target_feature(enable = "avx2")]
    fn inner<L: LeakLanes<Eight>>(programs: &[Program<L::Lane>], want_trace: bool) -> Answers {
        run::<Eight, L>(programs, want_trace)
    }
    // SAFETY: the only caller checks at run time that the processor has AVX2,
    // which is all that this function's contract asks for; it takes and
    // returns ordinary safe references and values.
    unsafe { inner::<L>(programs, want_trace) }
}
