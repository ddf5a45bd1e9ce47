//! Batches in eight lanes, on wide registers where the processor has them.

use digits::lanes::Eight;
#[cfg(target_arch = "x86_64")]
use digits::lanes::{EightAvx2, EightAvx512};

use super::errors::CycleError;
use super::leak_lanes::{LeakLanes, LeakLaw};
use super::lockstep::run;
use super::program::Program;
use super::simulate::CycleOutcome;

type Answers = Vec<Result<CycleOutcome, CycleError>>;

/// Runs all programs in eight lanes; answers in their order.
///
/// The code is compiled three times, for the plain processor, for AVX2 and for
/// AVX-512; all do the same operations without fused multiply-add, so the
/// digits agree.
///
/// Programs with leaks alike run beside each other, because a branch that one
/// lane needs is computed for all; no digit depends on it.
pub(super) fn run_in_lanes<L: LeakLaw>(
    programs: Vec<Program<L::Lane>>,
    want_trace: bool,
) -> Answers {
    in_order_of_strength::<L>(programs, |sorted| run_widest::<L>(sorted, want_trace))
}

/// Registers that eight lanes can be run on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Registers {
    /// Those that every build has.
    Plain,
    /// Four numbers each.
    Avx2,
    /// Eight numbers each.
    Avx512,
}

impl Registers {
    /// Every kind, the narrowest first.
    pub const ALL: [Self; 3] = [Self::Plain, Self::Avx2, Self::Avx512];

    /// Whether this processor has them.
    #[must_use]
    pub fn are_here(self) -> bool {
        match self {
            Self::Plain => true,
            #[cfg(target_arch = "x86_64")]
            Self::Avx2 => std::arch::is_x86_feature_detected!("avx2"),
            #[cfg(target_arch = "x86_64")]
            Self::Avx512 => {
                std::arch::is_x86_feature_detected!("avx512f")
                    && std::arch::is_x86_feature_detected!("avx512dq")
            }
            #[cfg(not(target_arch = "x86_64"))]
            _ => false,
        }
    }
}

/// As [`run_in_lanes`], on registers of one kind; nothing where the processor
/// does not have them.
pub(super) fn run_on<L: LeakLaw>(
    registers: Registers,
    programs: Vec<Program<L::Lane>>,
    want_trace: bool,
) -> Option<Answers> {
    if !registers.are_here() {
        return None;
    }
    Some(in_order_of_strength::<L>(programs, |sorted| match registers {
        #[cfg(target_arch = "x86_64")]
        Registers::Avx2 => run_avx2::<L>(sorted, want_trace),
        #[cfg(target_arch = "x86_64")]
        Registers::Avx512 => run_avx512::<L>(sorted, want_trace),
        _ => run_plain::<L>(sorted, want_trace),
    }))
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
        if Registers::Avx512.are_here() {
            return run_avx512::<L>(programs, want_trace);
        }
        if Registers::Avx2.are_here() {
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
        if Registers::Avx2.are_here() {
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
    // SAFETY: its callers check at run time that the processor has AVX2, which
    // is all that this function's contract asks for; it takes and returns
    // ordinary safe references and values.
    unsafe { inner::<L>(programs, want_trace) }
}

/// Calls the AVX-512 copy; only after its presence was checked.
#[cfg(target_arch = "x86_64")]
#[allow(unsafe_code)]
fn run_avx512<L: LeakLaw>(programs: &[Program<L::Lane>], want_trace: bool) -> Answers {
    #[target_feature(enable = "avx512f,avx512dq")]
    fn inner<L: LeakLaw>(programs: &[Program<L::Lane>], want_trace: bool) -> Answers {
        run::<EightAvx512, L::In<EightAvx512>, EightAvx512>(programs, want_trace)
    }
    // SAFETY: as in `run_avx2`.
    unsafe { inner::<L>(programs, want_trace) }
}
