//! Tables and numbers as plain text for the terminal.

/// Lines of a table: first column left, the others right aligned.
pub fn table(head: &[&str], rows: &[Vec<String>]) -> String {
    let n = head.len();
    let mut widths: Vec<usize> = head.iter().map(|cell| cell.chars().count()).collect();
    for row in rows {
        for (index, cell) in row.iter().enumerate().take(n) {
            widths[index] = widths[index].max(cell.chars().count());
        }
    }
    let line = |cells: &[String]| {
        let mut text = String::from(" ");
        for (index, cell) in cells.iter().enumerate().take(n) {
            let pad = " ".repeat(widths[index].saturating_sub(cell.chars().count()));
            if index == 0 {
                text.push_str(&format!(" {cell}{pad}"));
            } else {
                text.push_str(&format!("  {pad}{cell}"));
            }
        }
        text.trim_end().to_owned() + "\n"
    };
    let head: Vec<String> = head.iter().map(|cell| (*cell).to_owned()).collect();
    let rule: Vec<String> = widths.iter().map(|width| "-".repeat(*width)).collect();
    let mut text = line(&head) + &line(&rule);
    for row in rows {
        text.push_str(&line(row));
    }
    text
}

/// Lines of name and value, aligned.
pub fn pairs(rows: &[(&str, String)]) -> String {
    let width = rows.iter().map(|row| row.0.chars().count()).max().unwrap_or(0);
    rows.iter()
        .map(|(name, value)| {
            let pad = " ".repeat(width - name.chars().count());
            format!("  {name}{pad}  {value}\n")
        })
        .collect()
}

/// A paragraph of lines of at most 92 letters, indented by as many blanks.
pub fn paragraph(text: &str, indent: usize) -> String {
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.is_empty() => line.push_str(word),
            Some(line) if line.chars().count() + 1 + word.chars().count() <= 92 => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    let blanks = " ".repeat(indent);
    lines.iter().map(|line| format!("{blanks}{line}\n")).collect()
}

/// A number with the given significant digits, for text.
pub fn digits(value: f64, significant: usize) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    if !value.is_finite() {
        return "not defined".to_owned();
    }
    let magnitude = format!("{value:e}")
        .split_once('e')
        .and_then(|(_, exponent)| exponent.parse::<i32>().ok())
        .unwrap_or(0);
    if !(-3..6).contains(&magnitude) {
        return format!("{value:.*e}", significant.saturating_sub(1));
    }
    let decimals = usize::try_from(significant as i32 - 1 - magnitude).unwrap_or(0);
    format!("{value:.decimals$}")
}

/// A number with at most the given significant digits, without zeros at its
/// end: for numbers that a person wrote.
pub fn plain(value: f64, significant: usize) -> String {
    let text = digits(value, significant);
    match text.split_once('e') {
        None if text.contains('.') => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        _ => text,
    }
}

/// Two limits or a dash.
pub fn interval_or_dash(limits: Option<(f64, f64)>, significant: usize) -> String {
    limits.map_or_else(
        || "-".to_owned(),
        |(low, high)| format!("{} to {}", digits(low, significant), digits(high, significant)),
    )
}

/// A number or a dash.
pub fn digits_or_dash(value: Option<f64>, significant: usize) -> String {
    value.map_or_else(|| "-".to_owned(), |value| digits(value, significant))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_keep_their_digits() {
        assert_eq!(digits(24.2917, 4), "24.29");
        assert_eq!(digits(1.812_4e-3, 4), "0.001812");
        assert_eq!(digits(7.435_839e-7, 5), "7.4358e-7");
        assert_eq!(digits(101_325.0, 3), "101325");
        assert_eq!(digits(f64::NAN, 3), "not defined");
        assert_eq!(plain(5.0, 4), "5");
        assert_eq!(plain(0.25, 4), "0.25");
        assert_eq!(plain(20_000.0, 4), "20000");
    }

    #[test]
    fn columns_line_up() {
        let text = table(&["a", "value"], &[vec!["long name".into(), "1".into()]]);
        assert_eq!(text, "  a          value\n  ---------  -----\n  long name      1\n");
    }
}
