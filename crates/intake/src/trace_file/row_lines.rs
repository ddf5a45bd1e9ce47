//! The line of each row, or sample: mostly one more than the line before.

/// Lines of rows, kept as stretches of lines that follow each other.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct RowLines {
    /// First row of each stretch, with its line.
    stretches: Vec<(usize, u64)>,
    n_rows: usize,
    /// Line that would follow the last row.
    next: u64,
}

impl RowLines {
    /// Number of rows.
    pub(super) const fn len(&self) -> usize {
        self.n_rows
    }

    /// Adds a row.
    pub(super) fn push(&mut self, line: u64) {
        self.extend(line, 1);
    }

    /// Adds rows on lines that follow each other.
    pub(super) fn extend(&mut self, first_line: u64, n_rows: usize) {
        if n_rows == 0 {
            return;
        }
        if self.n_rows == 0 || self.next != first_line {
            self.stretches.push((self.n_rows, first_line));
        }
        self.n_rows += n_rows;
        self.next = first_line + n_rows as u64;
    }

    /// Adds the rows of a later part whose lines were counted from `offset`.
    pub(super) fn append(&mut self, later: &Self, offset: u64) {
        for (number, &(row, line)) in later.stretches.iter().enumerate() {
            let end = later.stretches.get(number + 1).map_or(later.n_rows, |next| next.0);
            self.extend(line + offset, end - row);
        }
    }

    /// The line of a row or sample, counted from 0; `None` where it is not there.
    #[must_use]
    pub fn line(&self, row: usize) -> Option<u64> {
        Some(self.of(row)).filter(|line| *line > 0)
    }

    /// The lines of some rows that follow each other.
    pub(super) fn slice(&self, rows: core::ops::Range<usize>) -> Self {
        let mut found = Self::default();
        for (number, &(row, line)) in self.stretches.iter().enumerate() {
            let end = self.stretches.get(number + 1).map_or(self.n_rows, |next| next.0);
            let (from, to) = (row.max(rows.start), end.min(rows.end));
            if from < to {
                found.extend(line + (from - row) as u64, to - from);
            }
        }
        found
    }

    /// The line of a row; 0 for a row that is not there.
    pub(super) fn of(&self, row: usize) -> u64 {
        let after = self.stretches.partition_point(|(first, _)| *first <= row);
        match after.checked_sub(1).and_then(|at| self.stretches.get(at)) {
            Some(&(first, line)) if row < self.n_rows => line + (row - first) as u64,
            _ => 0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_come_back_as_they_were_given() {
        let given = [3_u64, 4, 5, 8, 9, 20];
        let mut lines = RowLines::default();
        for line in given {
            lines.push(line);
        }
        assert_eq!(lines.stretches.len(), 3);
        let back: Vec<u64> = (0..lines.len()).map(|row| lines.of(row)).collect();
        assert_eq!(back, given);
        assert_eq!((lines.of(6), lines.line(6), lines.line(3)), (0, None, Some(8)));
        let middle = lines.slice(2..5);
        let back: Vec<u64> = (0..middle.len()).map(|row| middle.of(row)).collect();
        assert_eq!(back, [5, 8, 9]);
        let mut all = RowLines::default();
        all.extend(3, 3);
        let mut later = RowLines::default();
        later.extend(2, 2);
        later.push(14);
        all.append(&later, 6);
        assert_eq!(all, lines);
    }
}
