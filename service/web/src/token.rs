//! The launch token: 256 random bits that the printed address carries, so that another account on the machine, which
//! can reach the port but not see the terminal, cannot read.

use sheaf_app::error::AppError;

/// A launch token.
pub(crate) struct LaunchToken(String);

impl LaunchToken {
    /// A new one from the system's generator.
    pub(crate) fn generate() -> Result<Self, AppError> {
        let mut bytes = [0_u8; 32];
        getrandom::fill(&mut bytes).map_err(AppError::our_fault)?;
        Ok(LaunchToken(bytes.iter().map(|byte| format!("{byte:02x}")).collect()))
    }

    /// The token as text.
    pub(crate) fn as_str(&self) -> &str {
        &self.0
    }

    /// Whether the text is the token. Takes as long for a near miss as for a far one.
    pub(crate) fn is(&self, text: &str) -> bool {
        let (ours, theirs) = (self.0.as_bytes(), text.as_bytes());
        ours.len() == theirs.len() && ours.iter().zip(theirs).fold(0, |diff, (a, b)| diff | (a ^ b)) == 0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_whole_token_opens() {
        let token = LaunchToken::generate().unwrap();
        assert_eq!(token.as_str().len(), 64);
        assert!(token.is(token.as_str()));
        assert!(!token.is("") && !token.is(&token.as_str()[..63]) && !token.is(&format!("{}0", token.as_str())));
        assert!(!token.is(LaunchToken::generate().unwrap().as_str()));
    }
}
