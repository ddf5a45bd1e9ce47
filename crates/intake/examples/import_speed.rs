//! How fast files are read: `import_speed PLAN.toml FILE...` prints the time,
//! the rate and a sum of slopes as a check; `import_speed --stream PLAN.toml
//! FILE` reads piece by piece. Not part of the product.

#![allow(clippy::print_stdout)] // A measurement is printed.

use std::time::Instant;

use intake::plan_file::read_plan;
use intake::trace_file::{TraceStream, read_traces};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1).peekable();
    if arguments.next_if_eq("--stream").is_some() {
        return stream(&arguments.collect::<Vec<_>>());
    }
    let plan = read_plan(&std::fs::read_to_string(arguments.next().ok_or("name a plan")?)?)?;
    let files: Vec<String> = arguments.collect();
    let begin = Instant::now();
    let (mut n_bytes, mut n_samples, mut check) = (0, 0, 0.0);
    for path in &files {
        let bytes = std::fs::read(path)?;
        n_bytes += bytes.len();
        for imported in read_traces(&bytes, &plan)?.traces {
            let trace = &imported.trace;
            n_samples += trace.n_samples();
            check += slope(&trace.times_s, &trace.pressures_pa);
        }
    }
    let seconds = begin.elapsed().as_secs_f64();
    println!(
        "{} files, {n_samples} samples, {seconds:.3} s, {:.0} MB/s, check {check:.4}",
        files.len(),
        n_bytes as f64 / seconds / 1.0e6
    );
    Ok(())
}

fn stream(arguments: &[String]) -> Result<(), Box<dyn std::error::Error>> {
    use std::io::Read;
    let [plan, path] = arguments else { return Err("name a plan and a file".into()) };
    let plan = read_plan(&std::fs::read_to_string(plan)?)?;
    let begin = Instant::now();
    let mut stream = TraceStream::new(&plan);
    let mut file = std::fs::File::open(path)?;
    let mut piece = vec![0; 1 << 20];
    let (mut n_bytes, mut n_runs) = (0, 0);
    loop {
        let n = file.read(&mut piece)?;
        if n == 0 {
            break;
        }
        n_bytes += n;
        n_runs += stream.push(&piece[..n])?.iter().filter(|block| block.begins).count();
    }
    let end = stream.finish()?;
    n_runs += end.blocks.iter().filter(|block| block.begins).count();
    let seconds = begin.elapsed().as_secs_f64();
    println!(
        "{n_runs} runs, {} rows, {seconds:.3} s, {:.0} MB/s",
        end.n_rows,
        n_bytes as f64 / seconds / 1.0e6
    );
    Ok(())
}

/// Slope from 10 s to 30 s, as the bench of the general-purpose tools has it.
fn slope(times_s: &[f64], pressures_pa: &[f64]) -> f64 {
    let first = times_s.partition_point(|&time| time < 9.999);
    let (times, pressures) = (&times_s[first..], &pressures_pa[first..]);
    let mean = times.iter().sum::<f64>() / times.len() as f64;
    let (mut product, mut square) = (0.0, 0.0);
    for (time, pressure) in times.iter().zip(pressures) {
        product += (time - mean) * pressure;
        square += (time - mean) * (time - mean);
    }
    if square > 0.0 { product / square } else { 0.0 }
}
