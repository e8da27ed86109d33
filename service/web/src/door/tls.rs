//! The certificate and its key, as a school's office hands them over: PEM files.
//!
//! In:  two paths. Out: what the server needs for TLS 1.2 and 1.3, or one sentence on which file will not do.
//! Keeps: neither file's content stands in a message. Not here: how to come by a certificate (README).

use rustls::ServerConfig;
use rustls::crypto::ring;
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use sheaf_app::error::{AppError, ErrorKind};
use std::fmt::Display;
use std::path::Path;
use std::sync::Arc;

/// Reads both files.
///
/// # Errors
/// [`AppError`] of kind input where one cannot be read, or where they do not belong together.
pub(crate) fn server_config(certificate: &Path, key: &Path) -> Result<ServerConfig, AppError> {
    let chain = CertificateDer::pem_file_iter(certificate).and_then(Iterator::collect::<Result<Vec<_>, _>>);
    let chain = chain.map_err(|e| not_read(certificate, &e))?;
    if chain.is_empty() {
        return Err(not_read(certificate, &"there is no certificate in it"));
    }
    let secret = PrivateKeyDer::from_pem_file(key).map_err(|e| not_read(key, &e))?;
    ServerConfig::builder_with_provider(Arc::new(ring::default_provider()))
        .with_safe_default_protocol_versions()
        .map_err(AppError::our_fault)?
        .with_no_client_auth()
        .with_single_cert(chain, secret)
        .map_err(|e| not_read(key, &format!("it does not fit the certificate: {e}")))
}

fn not_read(path: &Path, reason: &dyn Display) -> AppError {
    let what = format!("{} cannot be used ({reason}); name the certificate and its key as PEM files.", path.display());
    AppError::new(ErrorKind::Input, "certificate-not-read", what)
}
