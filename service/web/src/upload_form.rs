//! Reads an upload form while it comes: files, items file, week; with limits on size and number.
//!
//! A file's name is shown later and never used as a path. Nothing is written to disk here.

use crate::guard::MAX_BODY_BYTES;
use actix_multipart::{Field, Multipart, MultipartError};
use futures_util::TryStreamExt;
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::weeks::GivenFile;

/// Files in one upload.
const MAX_FILES: usize = 24;
/// Bytes of a text field.
const MAX_TEXT_BYTES: usize = 64;

/// What the form held.
#[derive(Debug, Default)]
pub(crate) struct UploadForm {
    pub(crate) scores: Vec<GivenFile>,
    pub(crate) items: Option<GivenFile>,
    pub(crate) week: Option<String>,
}

impl UploadForm {
    /// The one file of a form that takes one; `missing` says so where there is none, or more.
    ///
    /// # Errors
    /// [`AppError`] of kind input.
    pub(crate) fn one_file(mut self, missing: &str) -> Result<GivenFile, AppError> {
        let file = self.scores.pop().filter(|_| self.scores.is_empty());
        file.ok_or_else(|| AppError::new(ErrorKind::Input, "no-file", missing))
    }
}

/// Reads the form.
///
/// # Errors
/// [`AppError`] of kind too large, or input where it is no such form.
pub(crate) async fn read_form(mut parts: Multipart) -> Result<UploadForm, AppError> {
    let mut form = UploadForm::default();
    let mut left = MAX_BODY_BYTES;
    while let Some(mut field) = parts.try_next().await.map_err(|e| broken(&e))? {
        let name = field.name().unwrap_or_default().to_owned();
        match name.as_str() {
            "file" if form.scores.len() < MAX_FILES => form.scores.extend(read_file(&mut field, &mut left).await?),
            "file" => return Err(too_large()),
            "items" => form.items = read_file(&mut field, &mut left).await?,
            "week" => {
                let mut left_for_text = MAX_TEXT_BYTES;
                let bytes = read_bytes(&mut field, &mut left_for_text).await?;
                form.week = Some(String::from_utf8_lossy(&bytes).into_owned());
            }
            _ => return Err(unknown_field()),
        }
    }
    Ok(form)
}

/// A file; `None` for a file field that was left empty.
async fn read_file(field: &mut Field, left: &mut usize) -> Result<Option<GivenFile>, AppError> {
    let name = field.content_disposition().and_then(|d| d.get_filename()).unwrap_or_default().to_owned();
    let bytes = read_bytes(field, left).await?;
    if bytes.is_empty() && name.is_empty() {
        return Ok(None);
    }
    if bytes.is_empty() {
        return Err(AppError::new(
            ErrorKind::Input,
            "file-empty",
            "the file is empty; save it again and choose it again",
        ));
    }
    Ok(Some(GivenFile { name, bytes }))
}

async fn read_bytes(field: &mut Field, left: &mut usize) -> Result<Vec<u8>, AppError> {
    let mut bytes = Vec::new();
    while let Some(chunk) = field.try_next().await.map_err(|e| broken(&e))? {
        *left = left.checked_sub(chunk.len()).ok_or_else(too_large)?;
        bytes.extend_from_slice(&chunk);
    }
    Ok(bytes)
}

fn too_large() -> AppError {
    AppError::new(
        ErrorKind::TooLarge,
        "file-too-large",
        "the upload is larger than 50 MiB or has more than 24 files; send fewer or smaller files at a time",
    )
}

fn unknown_field() -> AppError {
    AppError::new(ErrorKind::Input, "field-unknown", "the form has a field that is none of file, items and week")
}

fn broken(error: &MultipartError) -> AppError {
    match error {
        MultipartError::Payload(actix_web::error::PayloadError::Overflow) => too_large(),
        _ => AppError::new(
            ErrorKind::Input,
            "form-broken",
            "the upload did not arrive whole or is not a form with files; try again",
        ),
    }
}
