//! How fast files are read: `import_speed PLAN.toml FILE...` prints the time,
//! the rate and a sum of slopes as a check; `import_speed --stream PLAN.toml
//! FILE` reads piece by piece. RAYON_NUM_THREADS sets the number of threads.
//! Not part of the product.

#![allow(clippy::print_stdout)] // A measurement is printed.

use std::io::Read;
use std::time::Instant;

use intake::plan_file::read_plan;
use intake::reading_plan::ReadingPlan;
use intake::trace_file::{SampleBlock, TraceStream, read_traces};
use rayon::prelude::*;

type Fault = Box<dyn std::error::Error + Send + Sync>;

fn main() -> Result<(), Fault> {
    let mut arguments = std::env::args().skip(1).peekable();
    let is_stream = arguments.next_if_eq("--stream").is_some();
    let plan = read_plan(&std::fs::read_to_string(arguments.next().ok_or("name a plan")?)?)?;
    let files: Vec<String> = arguments.collect();
    if is_stream {
        stream(&plan, files.first().ok_or("name a file")?)
    } else {
        whole(&plan, &files)
    }
}

fn whole(plan: &ReadingPlan, files: &[String]) -> Result<(), Fault> {
    let begin = Instant::now();
    let read: Result<Vec<(usize, usize, f64)>, Fault> = files
        .par_iter()
        .map(|path| {
            let bytes = std::fs::read(path)?;
            let mut window = Window::default();
            let mut n_samples = 0;
            for imported in read_traces(&bytes, plan)?.traces {
                n_samples += imported.trace.n_samples();
                window.add(&imported.trace.times_s, &imported.trace.pressures_pa);
            }
            Ok((bytes.len(), n_samples, window.slope()))
        })
        .collect();
    let read = read?;
    let seconds = begin.elapsed().as_secs_f64();
    let n_bytes: usize = read.iter().map(|file| file.0).sum();
    println!(
        "{} files, {} samples, {seconds:.3} s, {:.0} MB/s, check {:.4}",
        files.len(),
        read.iter().map(|file| file.1).sum::<usize>(),
        n_bytes as f64 / seconds / 1.0e6,
        read.iter().map(|file| file.2).sum::<f64>(),
    );
    Ok(())
}

fn stream(plan: &ReadingPlan, path: &str) -> Result<(), Fault> {
    const PIECE_BYTES: usize = 1 << 22;
    let begin = Instant::now();
    let mut file = std::fs::File::open(path)?;
    // One piece is read while another is taken apart; used pieces go back.
    let (full, pieces) = std::sync::mpsc::sync_channel::<std::io::Result<(Vec<u8>, usize)>>(2);
    let (used, empty) = std::sync::mpsc::channel::<Vec<u8>>();
    for _ in 0..3 {
        used.send(vec![0; PIECE_BYTES])?;
    }
    let reading = std::thread::spawn(move || {
        while let Ok(mut piece) = empty.recv() {
            let read = file.read(&mut piece);
            let is_end = !matches!(read, Ok(n) if n > 0);
            if full.send(read.map(|n| (piece, n))).is_err() || is_end {
                break;
            }
        }
    });
    let mut stream = TraceStream::new(plan);
    let mut windows: Vec<Window> = Vec::new();
    let mut n_bytes = 0;
    let add = |blocks: Vec<SampleBlock>, windows: &mut Vec<Window>| {
        for block in blocks {
            if block.begins {
                windows.push(Window::default());
            }
            if let (Some(window), Some(channel)) = (windows.last_mut(), block.channels.first()) {
                window.add(&channel.times_s, &channel.pressures_pa);
            }
        }
    };
    for piece in pieces {
        let (piece, n) = piece?;
        n_bytes += n;
        add(stream.push(&piece[..n])?, &mut windows);
        // The reader may be gone already at the end of the file.
        let _ = used.send(piece);
    }
    let end = stream.finish()?;
    add(end.blocks, &mut windows);
    reading.join().map_err(|_| "the reading thread stopped")?;
    let seconds = begin.elapsed().as_secs_f64();
    let check: f64 = windows.iter().take(2000).map(Window::slope).sum();
    println!(
        "{} runs, {} rows, {seconds:.3} s, {:.0} MB/s, check {check:.4}, {}",
        windows.len(),
        end.n_rows,
        n_bytes as f64 / seconds / 1.0e6,
        most_memory(),
    );
    Ok(())
}

/// Most memory that the process has held, as the system says it.
fn most_memory() -> String {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    status.lines().find(|line| line.starts_with("VmHWM")).unwrap_or("memory not known").to_owned()
}

/// Slope from 10 s to 30 s, and the change of the pressure between the first
/// and the last second of it, as the bench of the general-purpose tools has it.
#[derive(Default)]
struct Window {
    n: f64,
    times: f64,
    squares: f64,
    pressures: f64,
    products: f64,
    first: (f64, f64),
    last: (f64, f64),
}

impl Window {
    fn add(&mut self, times_s: &[f64], pressures_pa: &[f64]) {
        // Times grow within a run, so that each window is one stretch.
        let from = |time_s: f64| times_s.partition_point(|&time| time < time_s);
        let (start, first, last) = (from(9.999), from(10.999), from(28.999));
        for (time, pressure) in times_s[start..].iter().zip(&pressures_pa[start..]) {
            // About the middle of the window, where the sums lose no digits.
            let time = time - 20.0;
            self.times += time;
            self.squares += time * time;
            self.pressures += pressure;
            self.products += time * pressure;
        }
        self.n += (times_s.len() - start) as f64;
        let sum = |values: &[f64]| (values.iter().sum::<f64>(), values.len() as f64);
        let (early, late) = (sum(&pressures_pa[start..first]), sum(&pressures_pa[last..]));
        self.first = (self.first.0 + early.0, self.first.1 + early.1);
        self.last = (self.last.0 + late.0, self.last.1 + late.1);
    }

    fn slope(&self) -> f64 {
        let change = self.last.0 / self.last.1 - self.first.0 / self.first.1;
        let slope = (self.products - self.times * self.pressures / self.n)
            / (self.squares - self.times * self.times / self.n);
        // Both are wanted; the change is only looked at.
        if change.is_finite() && slope.is_finite() { slope } else { 0.0 }
    }
}
