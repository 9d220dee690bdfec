//! Tables of the job file, the guards on them, and the steps from one version to the next.

use holdline::records::Hash;
use holdline_geom::fault::Fault;
use rusqlite::{Connection, TransactionBehavior};

use crate::fault::Where;

/// Bytes 68 to 71 of the file: "hold".
pub(crate) const APPLICATION_ID: i32 = 0x686f_6c64;

/// One step from a version of the tables to the next.
pub(crate) struct Migration {
    /// What it does, in a few words.
    pub name: &'static str,
    /// The statements.
    pub sql: &'static str,
}

/// All steps, in order. A step that has been published is never edited: its checksum is in every file.
pub(crate) const MIGRATIONS: &[Migration] = &[Migration {
    name: "documents and records",
    sql: include_str!("schema_1.sql"),
}];

/// Version of the tables that this program writes.
pub(crate) fn newest() -> i64 {
    MIGRATIONS.len() as i64
}

/// Takes the file from the version that it has to the newest one, in one transaction, or leaves it as it was.
pub(crate) fn migrate(
    connection: &mut Connection,
    here: &Where,
    steps: &[Migration],
) -> Result<(), Fault> {
    let old = |e| here.failed("reading the version", &e);
    let have = version(connection).map_err(old)?;
    check_applied(connection, here, steps)?;
    if have as usize == steps.len() {
        return Ok(());
    }
    let failed = |e| here.failed("bringing the tables to the newest version", &e);
    let write = connection
        .transaction_with_behavior(TransactionBehavior::Immediate)
        .map_err(failed)?;
    // Another process may have done it while this one waited.
    let have = version(&write).map_err(failed)?;
    for (idx, step) in steps.iter().enumerate().skip(have as usize) {
        apply(&write, idx + 1, step).map_err(failed)?;
    }
    write.commit().map_err(failed)
}

/// Fault if the steps that made this file are not the ones that this program knows.
pub(crate) fn check_applied(
    connection: &Connection,
    here: &Where,
    steps: &[Migration],
) -> Result<(), Fault> {
    let failed = |e| here.failed("reading which steps made the tables", &e);
    let have = version(connection).map_err(failed)?;
    if have == 0 {
        return Ok(());
    }
    if have < 0 || steps.len() < have as usize {
        return Err(here.newer_schema(have, steps.len()));
    }
    let mut query = connection
        .prepare("SELECT number, name, checksum FROM migrations ORDER BY number")
        .map_err(failed)?;
    let applied = query
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))
        .map_err(failed)?
        .collect::<Result<Vec<(i64, String, String)>, _>>()
        .map_err(failed)?;
    let known = steps.iter().take(have as usize).enumerate();
    let want: Vec<(i64, String, String)> = known
        .map(|(idx, step)| (idx as i64 + 1, step.name.to_owned(), checksum(step)))
        .collect();
    if applied == want {
        Ok(())
    } else {
        Err(here.other_schema("the steps that made its tables"))
    }
}

/// Fault if a table, an index or a guard is missing, changed, or new.
pub(crate) fn check_guards(
    connection: &Connection,
    here: &Where,
    steps: &[Migration],
) -> Result<(), Fault> {
    let failed = |e| here.failed("comparing the tables with what they should be", &e);
    let have = version(connection).map_err(failed)?;
    let fresh = Connection::open_in_memory().map_err(failed)?;
    for (idx, step) in steps.iter().enumerate().take(have.max(0) as usize) {
        apply(&fresh, idx + 1, step).map_err(failed)?;
    }
    let want = statements(&fresh).map_err(failed)?;
    let got = statements(connection).map_err(failed)?;
    let missing = want
        .iter()
        .find(|item| !got.contains(item))
        .map(|item| item.0.as_str());
    let added = got
        .iter()
        .find(|item| !want.contains(item))
        .map(|item| item.0.as_str());
    match missing.or(added) {
        None => Ok(()),
        Some(name) => Err(here.other_schema(&format!("its {name}"))),
    }
}

/// `user_version` of the file.
pub(crate) fn version(connection: &Connection) -> rusqlite::Result<i64> {
    connection.query_row("PRAGMA user_version", [], |row| row.get(0))
}

fn apply(connection: &Connection, number: usize, step: &Migration) -> rusqlite::Result<()> {
    connection.execute_batch(step.sql)?;
    connection.execute(
        "INSERT INTO migrations (number, name, checksum) VALUES (?1, ?2, ?3)",
        (number as i64, step.name, checksum(step)),
    )?;
    // Both numbers live on the first page and are part of the transaction.
    connection.execute_batch(&format!(
        "PRAGMA user_version = {number}; PRAGMA application_id = {APPLICATION_ID}"
    ))
}

fn checksum(step: &Migration) -> String {
    Hash::of(step.sql.as_bytes()).to_string()
}

fn statements(connection: &Connection) -> rusqlite::Result<Vec<(String, String)>> {
    // What SQLite makes for itself (sqlite_stat1 and the like) is none of ours and guards nothing.
    let sql = "SELECT type || ' ' || name, coalesce(sql, '') FROM sqlite_schema
               WHERE name NOT LIKE 'sqlite\\_%' ESCAPE '\\' ORDER BY 1";
    connection
        .prepare(sql)?
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?
        .collect()
}
