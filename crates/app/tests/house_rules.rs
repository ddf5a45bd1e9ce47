//! House rules: who may import whom, what the pure rooms may not say, and
//! that the map, the glossary and the evidence files are true.

mod house;
