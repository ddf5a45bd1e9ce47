//! Points of the sequence of Sobol' against an independent program.

use digits::sobol::{MOST_DIMENSIONS, Sobol};

const ROWS: &str = include_str!("../../../reference/digits_sobol.csv");

#[test]
fn points_are_those_of_an_independent_program() {
    let sequence = Sobol::unshifted(MOST_DIMENSIONS).unwrap();
    let mut n = 0;
    for line in ROWS.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let mut inputs =
            cells[1].split("; ").map(|input| input.split_once('=').unwrap().1.parse::<u32>());
        let index = inputs.next().unwrap().unwrap();
        let dimension = inputs.next().unwrap().unwrap() as usize - 1;
        let value: f64 = cells[2].parse().unwrap();
        assert_eq!(sequence.at(index, dimension), value, "{line}");
        n += 1;
    }
    assert!(n >= 160);
}
