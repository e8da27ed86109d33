//! A skill's code in one normal form.
//!
//! Grade 3–5 standards are written in many ways; `4.NF.3c`, `4.nf.b.3.c`, `CCSS.MATH.CONTENT.4.NF.B.3.C` all become
//! `4.NF.B.3c`. Where the cluster letter is left out, [`super::SkillGraph::resolve`] finds it. Any other text stays as given.

use std::fmt;

/// A skill's code.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct SkillCode(String);

impl SkillCode {
    /// Trims, and brings the spelling of a standard's code into its normal form. `None` for blank text.
    ///
    /// ```
    /// # use sheaf_core::skills::SkillCode;
    /// assert_eq!(SkillCode::parse("CCSS.Math.Content.4.NF.B.3.c").unwrap().as_str(), "4.NF.B.3c");
    /// assert_eq!(SkillCode::parse(" Place value ").unwrap().as_str(), "Place value");
    /// ```
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.trim();
        if text.is_empty() {
            return None;
        }
        Some(SkillCode(standard_form(text).unwrap_or_else(|| text.split_whitespace().collect::<Vec<_>>().join(" "))))
    }

    /// The code as text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The grade that a standard's code begins with (`4` of `4.NF.B.3c`); `None` for other codes.
    #[must_use]
    pub fn grade(&self) -> Option<u8> {
        let (grade, rest) = self.0.split_once('.')?;
        (!rest.is_empty()).then(|| grade.parse().ok()).flatten()
    }
}

impl fmt::Display for SkillCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// `GRADE.DOMAIN[.CLUSTER].NUMBER[letter]`, or `None` where the text is something else.
fn standard_form(text: &str) -> Option<String> {
    let upper = text.to_uppercase().replace([' ', '-', '_'], ".");
    let upper = ["CCSS.MATH.CONTENT.", "CCSS.MATH.", "CCSSM.", "CCSS."]
        .iter()
        .find_map(|prefix| upper.strip_prefix(prefix))
        .unwrap_or(&upper);
    let parts: Vec<&str> = upper.split('.').filter(|p| !p.is_empty()).collect();
    let (grade, rest) = parts.split_first()?;
    let (domain, rest) = rest.split_first()?;
    let is_grade = grade.len() == 1 && grade.chars().all(|c| c.is_ascii_digit());
    if !is_grade || !["OA", "NBT", "NF", "MD", "G"].contains(domain) {
        return None;
    }
    let (cluster, rest) = match rest.split_first()? {
        (c, rest) if c.len() == 1 && c.chars().all(|c| c.is_ascii_uppercase()) => (Some(*c), rest),
        _ => (None, rest),
    };
    let tail: String = rest.concat();
    let digits: String = tail.chars().take_while(char::is_ascii_digit).collect();
    let letter = &tail[digits.len()..];
    if digits.is_empty() || letter.len() > 1 || !letter.chars().all(|c| c.is_ascii_uppercase()) {
        return None;
    }
    let cluster = cluster.map(|c| format!(".{c}")).unwrap_or_default();
    Some(format!("{grade}.{domain}{cluster}.{digits}{}", letter.to_lowercase()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(text: &str, expect: &str) {
        assert_eq!(SkillCode::parse(text).unwrap().as_str(), expect);
    }

    #[test]
    fn spellings_of_a_standard_become_one() {
        for text in
            ["4.NF.B.3.c", "4.nf.b.3c", "CCSS.MATH.CONTENT.4.NF.B.3.C", "CCSS.Math.Content.4.NF.B.3.c", "4 NF B 3c"]
        {
            check(text, "4.NF.B.3c");
        }
        check("5.NF.5", "5.NF.5");
        check("3.OA.A.1", "3.OA.A.1");
    }

    #[test]
    fn other_codes_stay_as_given() {
        for text in ["Place value", "B1", "fr-add", "4.XX.1", "5"] {
            check(text, text);
        }
    }

    #[test]
    fn only_a_standard_has_a_grade() {
        assert_eq!(SkillCode::parse("5.NF.B.5a").unwrap().grade(), Some(5));
        assert_eq!(SkillCode::parse("B1").unwrap().grade(), None);
    }
}
