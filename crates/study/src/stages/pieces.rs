//! A record cut into straight pieces: the partition with the least sum of
//! squares over the noise and a price for each piece.
//!
//! Optimal partitioning by dynamic programming (B. Jackson et al., IEEE Signal
//! Process. Lett. 12 (2005) 105, from memory) on at most [`BLOCKS`] means of
//! neighbouring samples: `F(j) = min_i F(i) + RSS(i..j)/s² + price`.

/// Means to which a record is thinned.
const BLOCKS: usize = 400;
/// What a piece costs, in variances: about `3 ln n` for its three numbers
/// (Schwarz's criterion), and as much again against noise that is not white.
const PRICE: f64 = 30.0;
/// Second differences of normal noise: the median of a squared normal value is
/// 0.4549 of its variance.
const MEDIAN_OF_SQUARE: f64 = 0.4549;

/// The thinned record.
#[derive(Debug, Clone)]
pub(super) struct Blocks {
    /// Samples in each but the last.
    pub(super) stride: usize,
    pub(super) times: Vec<f64>,
    pub(super) values: Vec<f64>,
}

impl Blocks {
    pub(super) fn of(times: &[f64], values: &[f64]) -> Self {
        let stride = times.len().div_ceil(BLOCKS).max(1);
        let means = |all: &[f64]| {
            all.chunks(stride).map(|some| digits::sums::mean(some).unwrap_or(some[0])).collect()
        };
        Self { stride, times: means(times), values: means(values) }
    }
}

/// A straight piece.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Piece {
    /// First block.
    pub(super) from: usize,
    /// One past its last block.
    pub(super) to: usize,
    /// Slope, Pa/s; zero for one block.
    pub(super) slope: f64,
    /// Standard error of the slope with the noise of the record.
    pub(super) slope_error: f64,
    /// The line at its first block, Pa.
    pub(super) first: f64,
    /// The line at its last block, Pa.
    pub(super) last: f64,
}

/// Pieces with the noise they were cut by.
#[derive(Debug, Clone)]
pub(super) struct Cut {
    pub(super) pieces: Vec<Piece>,
    /// Standard deviation of a block, with its memory of the blocks before it, Pa.
    pub(super) noise: f64,
}

/// Cuts a thinned record. `least_noise` keeps a record without noise from being
/// cut by its rounding.
pub(super) fn cut(blocks: &Blocks, least_noise: f64) -> Cut {
    let mut noise = noise_by_second_differences(&blocks.values).max(least_noise);
    let mut pieces = partition(blocks, noise);
    // What the long pieces leave tells the noise with its memory.
    if let Some(left) = noise_that_is_left(blocks, &pieces)
        && left > noise
    {
        noise = left;
        pieces = partition(blocks, noise);
    }
    Cut { pieces, noise }
}

/// Sums of a line through points that come one by one.
#[derive(Debug, Clone, Copy, Default)]
struct Line {
    n: f64,
    mean_t: f64,
    mean_v: f64,
    tt: f64,
    tv: f64,
    vv: f64,
}

impl Line {
    fn add(&mut self, time: f64, value: f64) {
        self.n += 1.0;
        let (dt, dv) = (time - self.mean_t, value - self.mean_v);
        self.mean_t += dt / self.n;
        self.mean_v += dv / self.n;
        self.tt += dt * (time - self.mean_t);
        self.tv += dt * (value - self.mean_v);
        self.vv += dv * (value - self.mean_v);
    }

    fn left(&self) -> f64 {
        let explained = if self.tt > 0.0 { self.tv * self.tv / self.tt } else { 0.0 };
        (self.vv - explained).max(0.0)
    }

    fn slope(&self) -> f64 {
        if self.tt > 0.0 { self.tv / self.tt } else { 0.0 }
    }
}

fn partition(blocks: &Blocks, noise: f64) -> Vec<Piece> {
    let n = blocks.values.len();
    let per = 1.0 / (noise * noise);
    let mut best = vec![f64::INFINITY; n + 1];
    let mut before = vec![0; n + 1];
    best[0] = 0.0;
    for to in 1..=n {
        let mut line = Line::default();
        for from in (0..to).rev() {
            line.add(blocks.times[from], blocks.values[from]);
            let left = line.left() * per;
            // What is left never shrinks as a piece grows.
            if left >= best[to] {
                break;
            }
            let cost = best[from] + left + PRICE;
            if cost < best[to] {
                (best[to], before[to]) = (cost, from);
            }
        }
    }
    let mut pieces = Vec::new();
    let mut to = n;
    while to > 0 {
        let from = before[to];
        pieces.push(piece(blocks, from, to, noise));
        to = from;
    }
    pieces.reverse();
    pieces
}

fn piece(blocks: &Blocks, from: usize, to: usize, noise: f64) -> Piece {
    let mut line = Line::default();
    for at in from..to {
        line.add(blocks.times[at], blocks.values[at]);
    }
    let at = |block: usize| line.mean_v + line.slope() * (blocks.times[block] - line.mean_t);
    Piece {
        from,
        to,
        slope: line.slope(),
        slope_error: if line.tt > 0.0 { noise / line.tt.sqrt() } else { f64::INFINITY },
        first: at(from),
        last: at(to - 1),
    }
}

/// Noise of neighbours from the middle of the squared second differences, which
/// neither a slope nor a few jumps enter: the smaller of what lies low in the
/// range and of what lies below the room.
pub(super) fn noise_by_second_differences(values: &[f64]) -> f64 {
    /// Fewer tell no noise.
    const FEWEST: usize = 12;
    /// More of them tell it no better.
    const MOST: usize = 20_000;
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let below = |share: f64| {
        let limit = low + share * (high - low);
        let mut squares: Vec<f64> = values
            .windows(3)
            .step_by(values.len() / MOST + 1)
            .filter(|three| three.iter().all(|value| *value <= limit))
            .map(|three| {
                let bend = three[0] - 2.0 * three[1] + three[2];
                bend * bend / 6.0
            })
            .collect();
        squares.sort_by(f64::total_cmp);
        squares
    };
    let (lower, most) = (below(1.0 / 3.0), below(0.9));
    let of = |squares: &[f64]| {
        if squares.len() < FEWEST {
            return None;
        }
        let median = squares[squares.len() / 2] / MEDIAN_OF_SQUARE;
        // Steps of a coarse gauge leave most second differences at zero.
        let mean = || digits::sums::mean(&squares[..squares.len() * 9 / 10]).unwrap_or(0.0);
        Some(if median > 0.0 { median } else { mean() }.sqrt())
    };
    match (of(&lower), of(&most)) {
        (Some(lower), Some(most)) => lower.min(most),
        (one, other) => one.or(other).or_else(|| of(&below(1.0))).unwrap_or(0.0),
    }
}

/// Standard deviation of what the long pieces leave, times what its memory adds
/// to the scatter of means, `(1 + r)/(1 - r)`; `None` without long pieces.
fn noise_that_is_left(blocks: &Blocks, pieces: &[Piece]) -> Option<f64> {
    const LONG: usize = 12;
    let (mut squares, mut products, mut freedom) = (0.0, 0.0, 0.0);
    for piece in pieces.iter().filter(|piece| piece.to - piece.from >= LONG) {
        let start = blocks.times[piece.from];
        let left: Vec<f64> = (piece.from..piece.to)
            .map(|at| blocks.values[at] - piece.first - piece.slope * (blocks.times[at] - start))
            .collect();
        squares += left.iter().map(|value| value * value).sum::<f64>();
        products += left.windows(2).map(|two| two[0] * two[1]).sum::<f64>();
        freedom += left.len() as f64 - 2.0;
    }
    if !(freedom > 0.0 && squares > 0.0) {
        return None;
    }
    let memory = (products / squares).clamp(0.0, 0.9);
    Some((squares / freedom * (1.0 + memory) / (1.0 - memory)).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_straight_pieces_are_given_back() {
        let mut stream = digits::RandomStream::new(2, 1);
        let times: Vec<f64> = (0..300).map(f64::from).collect();
        let values: Vec<f64> = times
            .iter()
            .map(|&t| {
                let clean = match t {
                    t if t < 100.0 => 1000.0 - 5.0 * t,
                    t if t < 200.0 => 500.0,
                    _ => 500.0 + 0.5 * (t - 200.0),
                };
                clean + stream.normal()
            })
            .collect();
        let found = cut(&Blocks::of(&times, &values), 0.0);
        let ends: Vec<usize> = found.pieces.iter().map(|piece| piece.to).collect();
        assert_eq!(ends.len(), 3, "{found:?}");
        assert!(ends[0].abs_diff(100) <= 1 && ends[1].abs_diff(200) <= 8, "{ends:?}");
        assert!((found.noise - 1.0).abs() < 0.2 && (found.pieces[2].slope - 0.5).abs() < 0.02);
    }

    #[test]
    fn noise_that_remembers_is_one_piece() {
        let mut stream = digits::RandomStream::new(3, 1);
        let times: Vec<f64> = (0..380).map(f64::from).collect();
        let mut slow = 0.0;
        let values: Vec<f64> = times
            .iter()
            .map(|_| {
                slow = 0.7 * slow + stream.normal();
                100.0 + slow
            })
            .collect();
        assert_eq!(cut(&Blocks::of(&times, &values), 0.0).pieces.len(), 1);
    }
}
