//! The token that tells this person's page from everybody else on the computer.

use std::hint::black_box;

use holdline_geom::fault::Fault;

/// 256 bits from the system's own source, new at every start.
#[derive(Clone, PartialEq, Eq)]
pub struct Token(String);

impl Token {
    /// A new one.
    ///
    /// # Errors
    ///
    /// `W098` if the system gives no random bytes: then nothing is served.
    pub fn new() -> Result<Token, Fault> {
        let mut bytes = [0_u8; 32];
        getrandom::fill(&mut bytes).map_err(|error| {
            Fault::new(
                "W098",
                "token",
                error.to_string(),
                "random bytes from the system",
                "without a secret the workbench would be open to every program on this computer; restart the computer, then try again",
            )
        })?;
        Ok(Token(
            bytes.iter().map(|byte| format!("{byte:02x}")).collect(),
        ))
    }

    /// The text for the address.
    pub fn text(&self) -> &str {
        &self.0
    }

    /// Whether this is the token. Takes as long for a wrong one as for the right one.
    pub fn is(&self, said: &str) -> bool {
        let (want, got) = (self.0.as_bytes(), said.as_bytes());
        let mut differs = u8::from(want.len() != got.len());
        for (idx, byte) in want.iter().enumerate() {
            differs |= byte ^ black_box(got.get(idx).copied().unwrap_or(0));
        }
        black_box(differs) == 0
    }
}

impl std::fmt::Debug for Token {
    /// Never the token itself: it must not end up in a log.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Token(…)")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_whole_token_is_the_token() {
        let token = Token::new().unwrap();
        assert_eq!(token.text().len(), 64);
        assert!(token.is(token.text()));
        let longer = format!("{}0", token.text());
        for bad in [
            "",
            "0",
            &token.text()[1..],
            &longer,
            &token.text().to_uppercase(),
            "é",
        ] {
            assert!(!token.is(bad) || bad == token.text());
        }
        assert_ne!(Token::new().unwrap(), token);
        assert_eq!(format!("{token:?}"), "Token(…)");
    }
}
