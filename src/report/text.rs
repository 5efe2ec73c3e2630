//! Text for a terminal as a value: headings, paragraphs, rows with aligned columns.

/// One piece of text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Line {
    /// Stands out.
    Heading(String),
    /// Running text, wrapped to the terminal.
    Paragraph(String),
    /// A row of a table: as it is.
    Row(String),
    /// Small print, wrapped.
    Fine(String),
}

impl Line {
    /// An empty line.
    pub fn blank() -> Self {
        Line::Row(String::new())
    }
}

/// How a column stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Align {
    /// Words.
    Left,
    /// Numbers.
    Right,
}

/// Spaces between columns.
const GAP: usize = 2;

/// Rows with aligned columns, indented by two; the first row may be a heading. `aligns` holds one letter a
/// column: `l` or `r`.
pub fn columns(aligns: &str, rows: &[Vec<String>]) -> Vec<Line> {
    let aligns: Vec<Align> = aligns
        .chars()
        .map(|c| if c == 'r' { Align::Right } else { Align::Left })
        .collect();
    let width = |s: &str| textwrap::core::display_width(s);
    let widths: Vec<usize> = (0..aligns.len())
        .map(|k| {
            rows.iter()
                .map(|r| r.get(k).map_or(0, |c| width(c)))
                .max()
                .unwrap_or(0)
        })
        .collect();
    rows.iter()
        .map(|row| {
            let mut line = String::from("  ");
            for (k, cell) in row.iter().enumerate().take(aligns.len()) {
                if k > 0 {
                    line += &" ".repeat(GAP);
                }
                let room = " ".repeat(widths[k].saturating_sub(width(cell)));
                match aligns[k] {
                    Align::Left => line += &format!("{cell}{room}"),
                    Align::Right => line += &format!("{room}{cell}"),
                }
            }
            Line::Row(line.trim_end().to_owned())
        })
        .collect()
}

/// A number with a count of decimals, no negative zero; a dash for what is not known. A plain minus: columns
/// stay aligned when pasted.
pub fn number(x: f64, decimals: usize) -> String {
    if !x.is_finite() {
        return "-".to_owned();
    }
    let text = format!("{x:.decimals$}");
    if text.bytes().all(|b| matches!(b, b'-' | b'0' | b'.')) {
        text.replace('-', "")
    } else {
        text
    }
}

/// Three components side by side, each as wide as the widest such value.
pub fn vector(v: [f64; 3], decimals: usize, width: usize) -> String {
    v.map(|x| format!("{:>width$}", number(x, decimals))).join(" ")
}

/// The whole text as one string, as a file or a pipe would get it.
pub fn plain(lines: &[Line]) -> String {
    lines
        .iter()
        .map(|l| match l {
            Line::Heading(t) | Line::Paragraph(t) | Line::Row(t) | Line::Fine(t) => format!("{t}\n"),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn property_columns_stand_below_each_other_whatever_the_letters() {
        let rows = [["what", "°"], ["köl", "1.5"], ["x", "-12.25"]].map(|r| r.map(str::to_owned).to_vec());
        assert_eq!(
            plain(&columns("lr", &rows)),
            "  what       °\n  köl      1.5\n  x     -12.25\n"
        );
    }

    #[test]
    fn property_missing_is_a_dash_and_zero_has_no_sign() {
        assert_eq!(number(f64::NAN, 2), "-");
        assert_eq!(number(-0.001, 2), "0.00");
        assert_eq!(vector([1.0, -2.0, f64::NAN], 1, 5), "  1.0  -2.0     -");
    }
}
