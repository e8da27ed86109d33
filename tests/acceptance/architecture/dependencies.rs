//! Who may depend on whom: cli → web → app → { sheets, store } → core, and why each outside library is there.
//!
//! In:  every `Cargo.toml`. Out: one breach for each arrow that points the wrong way, each outside library in a crate
//! that has no business with it, and each workspace dependency without a stated reason.
//! Keeps: a crate that the table does not know is a breach, so a new crate has to take its place in it first.

use super::tree::{SourceFile, files_under, read};
use super::{assert_caught, assert_none};
use toml::Table;

/// Crate, and the project's own crates that it may name.
const MAY_NAME: [(&str, &[&str]); 7] = [
    ("sheaf-core", &[]),
    ("sheaf-sheets", &["sheaf-core"]),
    ("sheaf-store", &["sheaf-core"]),
    ("sheaf-app", &["sheaf-core", "sheaf-sheets", "sheaf-store"]),
    ("sheaf-web", &["sheaf-core", "sheaf-app"]),
    ("sheaf", &["sheaf-core", "sheaf-app", "sheaf-web"]),
    ("sheaf-tests", &["sheaf-core", "sheaf-sheets", "sheaf-store", "sheaf-app", "sheaf-web", "sheaf"]),
];

/// Start of an outside library's name, and the crates that may depend on it.
const LIBRARY_HOMES: [(&str, &[&str]); 8] = [
    ("linfa", &["sheaf-core"]),
    ("calamine", &["sheaf-sheets", "sheaf-tests"]),
    ("rust_xlsxwriter", &["sheaf-sheets", "sheaf-tests"]),
    ("rusqlite", &["sheaf-store"]),
    ("actix", &["sheaf-web", "sheaf-tests"]),
    ("askama", &["sheaf-web"]),
    ("utoipa", &["sheaf-web"]),
    ("thirtyfour", &["sheaf-tests"]),
];

/// A manifest: its crate and everything that it depends on, in any section.
struct Manifest {
    name: String,
    needs: Vec<String>,
}

fn manifest(file: &SourceFile) -> Manifest {
    let table: Table = file.text.parse().unwrap_or_else(|e| panic!("{}: {e}", file.path));
    let name = table["package"]["name"].as_str().unwrap_or_default().to_owned();
    let mut needs = Vec::new();
    collect_needs(&table, &mut needs);
    if let Some(targets) = table.get("target").and_then(|t| t.as_table()) {
        targets.values().filter_map(|t| t.as_table()).for_each(|target| collect_needs(target, &mut needs));
    }
    Manifest { name, needs }
}

fn collect_needs(table: &Table, needs: &mut Vec<String>) {
    for section in ["dependencies", "dev-dependencies", "build-dependencies"] {
        let Some(entries) = table.get(section).and_then(|s| s.as_table()) else { continue };
        for (key, value) in entries {
            let renamed = value.get("package").and_then(|p| p.as_str());
            needs.push(renamed.unwrap_or(key).to_owned());
        }
    }
}

fn wrong_arrows(manifest: &Manifest) -> Vec<String> {
    let Some((_, allowed)) = MAY_NAME.iter().find(|(name, _)| *name == manifest.name) else {
        return vec![format!("{} has no place in the table of crates", manifest.name)];
    };
    let own = manifest.needs.iter().filter(|need| *need == "sheaf" || need.starts_with("sheaf-"));
    own.filter(|need| !allowed.contains(&need.as_str())).map(|n| format!("{} depends on {n}", manifest.name)).collect()
}

fn strayed_libraries(manifest: &Manifest) -> Vec<String> {
    let strayed = |need: &&String| {
        LIBRARY_HOMES.iter().any(|(start, homes)| need.starts_with(start) && !homes.contains(&manifest.name.as_str()))
    };
    manifest.needs.iter().filter(strayed).map(|need| format!("{} depends on {need}", manifest.name)).collect()
}

/// Lines of `[workspace.dependencies]` that name an outside library and give no reason in a comment of three words or more.
fn unexplained_dependencies(workspace: &str) -> Vec<String> {
    let mut breaches = Vec::new();
    let mut is_inside = false;
    for line in workspace.lines() {
        if line.starts_with('[') {
            is_inside = line.trim() == "[workspace.dependencies]";
        }
        let Some((name, _)) = line.split_once('=').filter(|_| is_inside) else { continue };
        let is_entry = name.starts_with(|c: char| c.is_ascii_alphabetic()) && !line.contains("path =");
        let reason = line.split_once('#').map_or("", |(_, reason)| reason);
        if is_entry && reason.split_whitespace().count() < 3 {
            breaches.push(format!("{} has no comment that says why", name.trim()));
        }
    }
    breaches
}

/// Names of `[workspace.dependencies]` that no member takes.
fn idle_dependencies(workspace: &str, manifests: &[Manifest]) -> Vec<String> {
    let table: Table = workspace.parse().unwrap_or_else(|e| panic!("Cargo.toml: {e}"));
    let names = table["workspace"]["dependencies"].as_table().map(|t| t.keys().cloned().collect::<Vec<_>>());
    let is_idle = |name: &String| !manifests.iter().any(|manifest| manifest.needs.contains(name));
    names.unwrap_or_default().into_iter().filter(is_idle).map(|name| format!("{name} is used by no crate")).collect()
}

fn member_manifests() -> Vec<Manifest> {
    let files = files_under(&["service", "cli", "tests"]);
    files.iter().filter(|file| file.ends("/Cargo.toml")).map(manifest).collect()
}

#[test]
fn dependencies_point_one_way() {
    let manifests = member_manifests();
    assert_eq!(manifests.len(), MAY_NAME.len(), "every crate of the table has a manifest and the other way round");
    let breaches: Vec<String> = manifests.iter().flat_map(wrong_arrows).collect();
    assert_none("cli -> web -> app -> { sheets, store } -> core", &breaches);
}

#[test]
fn outside_libraries_stay_in_the_crates_that_wrap_them() {
    let breaches: Vec<String> = member_manifests().iter().flat_map(strayed_libraries).collect();
    assert_none("a library is wrapped in one crate", &breaches);
}

#[test]
fn every_crate_takes_the_workspace_lints() {
    let files = files_under(&["service", "cli", "tests"]);
    let manifests = files.iter().filter(|file| file.ends("/Cargo.toml"));
    let breaches: Vec<String> =
        manifests.filter(|file| !file.text.contains("[lints]\nworkspace = true")).map(|f| f.path.clone()).collect();
    assert_none("[lints] workspace = true", &breaches);
}

#[test]
fn every_workspace_dependency_says_why_it_is_there() {
    assert_none("one comment a dependency", &unexplained_dependencies(&read("Cargo.toml").text));
}

#[test]
fn every_workspace_dependency_is_used() {
    let workspace = read("Cargo.toml").text;
    assert_none("no library without a use", &idle_dependencies(&workspace, &member_manifests()));
}

#[test]
fn a_dependency_that_nobody_takes_is_caught() {
    let members = [Manifest { name: "sheaf-core".to_owned(), needs: vec!["rand".to_owned()] }];
    let workspace = "[workspace.dependencies]\nrand = \"0.8\"\ninsta = \"1\"\n";
    assert_caught(&idle_dependencies(workspace, &members), "insta");
}

#[test]
fn an_arrow_from_the_store_to_the_sheets_is_caught() {
    let bad = SourceFile::sample(
        "service/store/Cargo.toml",
        "[package]\nname = \"sheaf-store\"\n[dependencies]\nsheaf-core.workspace = true\n\
         [target.'cfg(unix)'.dev-dependencies]\ncells = { package = \"sheaf-sheets\", path = \"../sheets\" }\n",
    );
    assert_caught(&wrong_arrows(&manifest(&bad)), "sheaf-sheets");
}

#[test]
fn a_crate_without_a_place_is_caught() {
    let bad = Manifest { name: "sheaf-extra".to_owned(), needs: Vec::new() };
    assert_caught(&wrong_arrows(&bad), "sheaf-extra");
}

#[test]
fn a_database_in_the_app_is_caught() {
    let bad =
        Manifest { name: "sheaf-app".to_owned(), needs: vec!["rusqlite_migration".to_owned(), "jiff".to_owned()] };
    assert_caught(&strayed_libraries(&bad), "rusqlite_migration");
}

#[test]
fn a_dependency_without_a_reason_is_caught() {
    let bad = "[workspace.dependencies]\nsheaf-core = { path = \"x\" }\n# --- numbers ---\nrand = \"0.8\" # why: a reason\n\
               csv = \"1\" # csv\n[workspace.lints.rust]\nunsafe_code = \"forbid\"\n";
    assert_caught(&unexplained_dependencies(bad), "csv");
}
