//! Accounts and passphrases: adding, removing, changing, and whether a name and a passphrase open.
//!
//! In:  names and passphrases as typed. Out: a person with a role, or one sentence on what is wrong.
//! A passphrase is never kept: Argon2id makes a text of it that says its own settings. A name that nobody has is answered after the same
//! work as a wrong passphrase (`an_unknown_name_costs_as_much_as_a_wrong_passphrase`).
//! Keeps: a passphrase is long enough and not the name (`a_passphrase_is_long_and_not_the_name`); names cannot be taken for the words that
//! stand for nobody's account (`a_name_is_plain_and_free`).
//! Not here: sessions, how often one may try, how many may be worked out at a time (`sheaf-web`).
//! Source: OWASP Password Storage Cheat Sheet and RFC 9106 for Argon2id; NIST SP 800-63B, section 5.1.1.2, for no rules of composition and for
//! bringing Unicode to one form; the lengths are common practice, no source.

use super::Weeks;
use crate::error::{AppError, ErrorKind};
use argon2::password_hash::{PasswordHash, PasswordHasher, PasswordVerifier, SaltString};
use argon2::{Algorithm, Argon2, Params, Version};
use sha2::{Digest, Sha256};
use sheaf_store::{About, Account, AccountRemoval, Actor, Change, Role};
use unicode_normalization::UnicodeNormalization;

/// Memory of one computation, KiB: 19 MiB, with two passes and one lane. OWASP Password Storage Cheat Sheet, Argon2id.
const MEMORY_KIB: u32 = 19_456;
/// Passes over it.
const PASSES: u32 = 2;
/// Lanes.
const LANES: u32 = 1;
/// Bytes of salt (RFC 9106, section 3.1, recommends 16).
const SALT_BYTES: usize = 16;

/// Shortest passphrase, characters. Common practice, no source.
pub const SHORTEST_PASSPHRASE: usize = 12;
/// Longest passphrase, characters: room for any sentence, and a bound for the work.
pub const LONGEST_PASSPHRASE: usize = 200;
/// Longest name, characters.
const LONGEST_NAME: usize = 40;

/// Looked at where a name is nobody's: the settings of every other, and what no passphrase gives but by chance.
const NOBODYS: &str = "$argon2id$v=19$m=19456,t=2,p=1$bm9ib2R5LWhhcy10aGlz$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA";

/// An account, as it is listed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AccountLine {
    /// Its name.
    pub name: String,
    /// What it may do.
    pub role: Role,
    /// The day on which it was added, as ISO text.
    pub created: String,
}

/// Somebody with an account.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SignedIn {
    /// The name, as the account has it.
    pub name: String,
    /// What the account may do.
    pub role: Role,
    /// Another one after each change of the passphrase, and for another account of the same name.
    pub stamp: [u8; 32],
}

impl From<Account> for SignedIn {
    fn from(account: Account) -> Self {
        let stamp = Sha256::digest(account.passphrase.as_bytes()).into();
        SignedIn { name: account.name, role: account.role, stamp }
    }
}

impl Weeks {
    /// Adds an account.
    ///
    /// # Errors
    /// [`AppError`] of kind input where the name or the passphrase will not do or the name is taken; of the records.
    pub fn add_account(&self, name: &str, role: Role, passphrase: &str) -> Result<(), AppError> {
        let name = name.trim();
        check_name(name)?;
        check_passphrase(name, passphrase)?;
        if !self.store.add_account(name, role, &hashed(passphrase)?)? {
            let what = format!("There is an account {name:?} already; choose another name.");
            return Err(AppError::new(ErrorKind::Input, "account-name-taken", what));
        }
        tracing::info!(job = "add_account", role = role.word());
        Ok(())
    }

    /// Removes an account.
    ///
    /// # Errors
    /// [`AppError`] of kind not found; of kind conflict where it is the last interventionist of several accounts; of the records.
    pub fn remove_account(&self, name: &str) -> Result<(), AppError> {
        match self.store.remove_account(name)? {
            AccountRemoval::Done => Ok(()),
            AccountRemoval::NotThere => Err(no_such_account(name)),
            AccountRemoval::LastInterventionist => Err(AppError::new(
                ErrorKind::Conflict,
                "last-interventionist",
                "This is the last interventionist, and nobody else could add accounts; add another interventionist first.",
            )),
        }
    }

    /// Puts another passphrase in place of an account's.
    ///
    /// # Errors
    /// [`AppError`] of kind input where it will not do; of kind not found; of the records.
    pub fn set_passphrase(&self, name: &str, passphrase: &str) -> Result<(), AppError> {
        check_passphrase(name, passphrase)?;
        let is_there = self.store.set_passphrase(name, &hashed(passphrase)?)?;
        if is_there { Ok(()) } else { Err(no_such_account(name)) }
    }

    /// The accounts, in order of name.
    ///
    /// # Errors
    /// [`AppError`] of the records.
    pub fn accounts(&self) -> Result<Vec<AccountLine>, AppError> {
        let line = |a: Account| AccountLine { name: a.name, role: a.role, created: a.created };
        Ok(self.store.accounts()?.into_iter().map(line).collect())
    }

    /// Whether a name and a passphrase open; a name that nobody has costs the same work.
    ///
    /// # Errors
    /// [`AppError`] of the records.
    pub fn check_passphrase(&self, name: &str, passphrase: &str) -> Result<Option<SignedIn>, AppError> {
        let account = self.store.account(name.trim())?;
        let is_right = fits(to_compare(account.as_ref()), passphrase)?;
        Ok(account.filter(|_| is_right).map(SignedIn::from))
    }

    /// The account as it is now; `None` where it is gone.
    ///
    /// # Errors
    /// [`AppError`] of the records.
    pub fn account(&self, name: &str) -> Result<Option<SignedIn>, AppError> {
        Ok(self.store.account(name)?.map(SignedIn::from))
    }

    /// Lists that somebody signed in or out.
    ///
    /// # Errors
    /// [`AppError`] of the records.
    pub fn note_sign(&self, name: &str, change: Change) -> Result<(), AppError> {
        Ok(self.store.by(Actor::Account(name.to_owned())).tell(change, About::account(name))?)
    }
}

/// What a passphrase is compared with.
fn to_compare(account: Option<&Account>) -> &str {
    account.map_or(NOBODYS, |a| a.passphrase.as_str())
}

fn argon2() -> Result<Argon2<'static>, AppError> {
    let params = Params::new(MEMORY_KIB, PASSES, LANES, None).map_err(AppError::our_fault)?;
    Ok(Argon2::new(Algorithm::Argon2id, Version::V0x13, params))
}

/// One form for what looks the same.
fn one_form(passphrase: &str) -> String {
    passphrase.nfkc().collect()
}

fn hashed(passphrase: &str) -> Result<String, AppError> {
    let mut salt = [0_u8; SALT_BYTES];
    getrandom::fill(&mut salt).map_err(AppError::our_fault)?;
    let salt = SaltString::encode_b64(&salt).map_err(AppError::our_fault)?;
    Ok(argon2()?.hash_password(one_form(passphrase).as_bytes(), &salt).map_err(AppError::our_fault)?.to_string())
}

fn fits(kept: &str, passphrase: &str) -> Result<bool, AppError> {
    let kept = PasswordHash::new(kept).map_err(AppError::our_fault)?;
    // Nothing longer was ever kept, whoever has the name.
    let is_possible = passphrase.chars().count() <= LONGEST_PASSPHRASE;
    Ok(is_possible && argon2()?.verify_password(one_form(passphrase).as_bytes(), &kept).is_ok())
}

fn check_name(name: &str) -> Result<(), AppError> {
    let is_plain = |c: char| c.is_alphanumeric() || matches!(c, '.' | '-' | '_' | '@');
    let is_free = !Actor::WORDS.iter().any(|word| word.eq_ignore_ascii_case(name));
    if (1..=LONGEST_NAME).contains(&name.chars().count()) && name.chars().all(is_plain) && is_free {
        return Ok(());
    }
    let what = format!(
        "An account is named by up to {LONGEST_NAME} letters, digits, and . - _ @, without blanks; {} are taken by Sheaf itself.",
        Actor::WORDS.join(", ")
    );
    Err(AppError::new(ErrorKind::Input, "account-name-not-allowed", what))
}

fn check_passphrase(name: &str, passphrase: &str) -> Result<(), AppError> {
    let is_name = one_form(passphrase).trim().to_lowercase() == one_form(name).to_lowercase();
    if !is_name && (SHORTEST_PASSPHRASE..=LONGEST_PASSPHRASE).contains(&passphrase.chars().count()) {
        return Ok(());
    }
    let what = format!(
        "A passphrase has {SHORTEST_PASSPHRASE} to {LONGEST_PASSPHRASE} characters and is not the name; several words are easy to keep in mind."
    );
    Err(AppError::new(ErrorKind::Input, "passphrase-not-allowed", what))
}

fn no_such_account(name: &str) -> AppError {
    AppError::new(ErrorKind::NotFound, "no-such-account", format!("There is no account {name:?}."))
}

#[cfg(test)]
mod tests {
    use super::super::small_quiz::weeks;
    use super::*;

    const WORDS: &str = "seven quiet herons";

    #[test]
    fn a_name_and_its_passphrase_open_and_nothing_else_does() {
        let weeks = weeks();
        weeks.add_account("ana", Role::Coach, WORDS).unwrap();
        let open = |name: &str, words: &str| weeks.check_passphrase(name, words).unwrap();
        let signed_in = open("ANA", WORDS).unwrap();
        assert_eq!((signed_in.name.as_str(), signed_in.role), ("ana", Role::Coach));
        assert_eq!(weeks.account("ana").unwrap(), Some(signed_in.clone()));
        for (name, words) in [("ana", "seven quiet heron"), ("ana", ""), ("bo", WORDS), ("", "")] {
            assert_eq!(open(name, words), None, "{name} {words}");
        }
        weeks.set_passphrase("ana", "eight quiet herons").unwrap();
        assert_eq!(open("ana", WORDS), None);
        assert_ne!(weeks.account("ana").unwrap().unwrap().stamp, signed_in.stamp);
        weeks.remove_account("ana").unwrap();
        assert_eq!(weeks.account("ana").unwrap(), None);
        assert_eq!(weeks.remove_account("ana").unwrap_err().code, "no-such-account");
    }

    #[test]
    fn an_unknown_name_costs_as_much_as_a_wrong_passphrase() {
        let account = Account {
            name: "ana".into(),
            role: Role::Coach,
            passphrase: hashed(WORDS).unwrap(),
            created: String::new(),
        };
        assert_eq!(to_compare(Some(&account)), account.passphrase);
        let (nobodys, hers) =
            (PasswordHash::new(to_compare(None)).unwrap(), PasswordHash::new(&account.passphrase).unwrap());
        assert_eq!((nobodys.algorithm, nobodys.version), (hers.algorithm, hers.version));
        assert_eq!(Params::try_from(&nobodys).unwrap(), Params::try_from(&hers).unwrap());
        assert_eq!(nobodys.hash.unwrap().len(), hers.hash.unwrap().len());
        assert!(!fits(NOBODYS, WORDS).unwrap(), "it reads, and does not open");
    }

    #[test]
    fn a_passphrase_is_long_and_not_the_name() {
        let code = |name: &str, words: &str| check_passphrase(name, words).map_err(|e| e.code);
        assert_eq!(code("ana", WORDS), Ok(()));
        assert_eq!(code("ana", &"ä".repeat(12)), Ok(()), "characters, not bytes");
        for words in ["eleven char", "", &"x".repeat(201)] {
            assert_eq!(code("ana", words), Err("passphrase-not-allowed"), "{words}");
        }
        assert_eq!(code("anastasia.quill", "Anastasia.Quill"), Err("passphrase-not-allowed"));
    }

    #[test]
    fn what_looks_the_same_opens() {
        let kept = hashed("caf\u{e9} and a walk").unwrap();
        assert!(fits(&kept, "cafe\u{301} and a walk").unwrap());
        assert!(kept.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{kept}");
        assert_ne!(kept, hashed("caf\u{e9} and a walk").unwrap(), "another salt each time");
    }

    #[test]
    fn a_name_is_plain_and_free() {
        let weeks = weeks();
        for name in ["", "two words", "<b>", "launch", "Script", "a=b", &"x".repeat(41)] {
            assert_eq!(
                weeks.add_account(name, Role::Coach, WORDS).unwrap_err().code,
                "account-name-not-allowed",
                "{name}"
            );
        }
        weeks.add_account("Jörg-2@quillmere", Role::Interventionist, WORDS).unwrap();
        let taken = weeks.add_account("jörg-2@quillmere", Role::Coach, WORDS).unwrap_err();
        assert_eq!(taken.code, "account-name-taken");
        weeks.add_account("ana", Role::Coach, WORDS).unwrap();
        assert_eq!(weeks.remove_account("Jörg-2@quillmere").unwrap_err().code, "last-interventionist");
    }
}
