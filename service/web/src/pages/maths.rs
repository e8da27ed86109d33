//! Finds the fractions in a text, so that a page can draw them as fractions: `3/4` becomes a numerator over a denominator.

/// A piece of a text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Piece {
    /// As it stands.
    Text(String),
    /// Numerator and denominator.
    Fraction(String, String),
}

/// Cuts a text into pieces. A slash between whole numbers is a fraction; any other slash stays.
pub(crate) fn pieces(text: &str) -> Vec<Piece> {
    let mut pieces = Vec::new();
    let mut plain = String::new();
    let mut rest = text;
    while let Some(start) = rest.find(is_figure) {
        let (before, from_digit) = rest.split_at(start);
        plain.push_str(before);
        let (numerator, after) = digits(from_digit);
        let (denominator, after_both) = after.strip_prefix('/').map_or(("", after), digits);
        let is_fraction = !denominator.is_empty() && !after_both.starts_with('/') && !plain.ends_with(['/', '.']);
        if is_fraction {
            flush(&mut plain, &mut pieces);
            pieces.push(Piece::Fraction(numerator.to_owned(), denominator.to_owned()));
            rest = after_both;
        } else {
            plain.push_str(numerator);
            rest = after;
        }
    }
    plain.push_str(rest);
    flush(&mut plain, &mut pieces);
    pieces
}

fn digits(text: &str) -> (&str, &str) {
    text.split_at(text.find(|c| !is_figure(c)).unwrap_or(text.len()))
}

/// A digit, or the box that stands for a missing number.
fn is_figure(c: char) -> bool {
    c.is_ascii_digit() || c == '▢'
}

fn flush(plain: &mut String, pieces: &mut Vec<Piece>) {
    if !plain.is_empty() {
        pieces.push(Piece::Text(std::mem::take(plain)));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(text: &str) -> String {
        let piece = |p: &Piece| match p {
            Piece::Text(t) => t.clone(),
            Piece::Fraction(n, d) => format!("[{n}|{d}]"),
        };
        pieces(text).iter().map(piece).collect()
    }

    #[test]
    fn whole_numbers_around_a_slash_are_a_fraction() {
        assert_eq!(shown("2 3/4 × 12 = 5/10?"), "2 [3|4] × 12 = [5|10]?");
        assert_eq!(shown("7/8"), "[7|8]");
        assert_eq!(shown("3/4 = ▢/8"), "[3|4] = [▢|8]");
    }

    #[test]
    fn other_slashes_stay() {
        for text in ["and/or", "12/", "2/2/2026", "1.5/2", "no digits", ""] {
            assert_eq!(shown(text), text);
        }
    }
}
