//! Workbooks that are left alone, each with its reason.
//! Nothing is written then; the reason is what a person is told. Not here: odd packages that are added to all the same (`corpus`).

use super::*;

fn refused(bytes: &[u8]) -> GraftError {
    let error = try_graft(bytes, &week(2)).err().unwrap();
    assert!(error.is_refusal(), "{error}");
    error
}

#[test]
fn each_refusal_has_its_reason() {
    for (name, code, clause) in [
        ("hand_refused_signed", "workbook-signed", "it is signed"),
        ("hand_refused_strict", "workbook-strict", "Strict Open XML"),
        ("hand_refused_structure_protected", "workbook-protected", "structure is protected"),
        ("hand_refused_shared", "workbook-shared", "shared workbook"),
        ("hand_refused_two_sheets_of_one_name", "sheet-names-clash", "the same name, QUIZ"),
        ("hand_refused_template", "workbook-of-another-kind", ".xlsx or .xlsm"),
        ("hand_refused_document_type", "workbook-damaged", "document type"),
        ("hand_refused_old_encoding", "workbook-encoding", "ISO-8859-1"),
    ] {
        let error = refused(&fixture(&format!("{name}.xlsx")));
        assert_eq!(error.code(), code, "{name}");
        assert!(error.to_string().contains(clause), "{name}: {error}");
    }
    let locked = std::fs::read(folder().join("../broken/password_protected.xlsx")).unwrap();
    assert!(matches!(refused(&locked), GraftError::Encrypted));
    assert_eq!(refused(b"id,Q1").code(), "workbook-damaged");
}

#[test]
fn each_refused_fixture_is_refused() {
    let names = std::fs::read_dir(folder()).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap());
    let refused_ones: Vec<String> = names.filter(|n| n.contains("refused_")).collect();
    assert_eq!(refused_ones.len(), 9);
    for name in refused_ones {
        refused(&fixture(&name));
    }
}

#[test]
fn a_package_cut_short_anywhere_is_refused_and_never_a_panic() {
    let whole = fixture("hand_external_link.xlsx");
    for length in (0..whole.len()).step_by(7) {
        assert!(try_graft(&whole[..length], &week(2)).is_err(), "{length}");
    }
}

#[test]
fn a_fault_in_our_own_workbook_is_no_refusal() {
    let theirs = fixture("hand_no_styles.xlsx");
    let error = try_graft(&theirs, &OurSheets::whole(b"PK no package".to_vec())).err().unwrap();
    assert!(!error.is_refusal() && error.code() == "our-fault", "{error}");
}
