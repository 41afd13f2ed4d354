//! The form of the diary's file, and how an older one is brought up to date.
//!
//! To change the form, add a migration here; never change one that was released. The form's number is
//! `user_version`, the file's owner `application_id`; the file is written with WAL and `synchronous=FULL`.

use rusqlite::{Connection, TransactionBehavior};

/// "Rngt": marks the file as a diary, in SQLite's field for that.
pub const APPLICATION_ID: i64 = 0x526e_6774;

/// Gives what each form adds to the one before; form 1 starts from nothing. Never change one that has been
/// released: add another.
pub fn migrations() -> Vec<String> {
    vec![form_1(), form_2(), form_3()]
}

/// A row a take, so that one scan shows all; the names are [`super::Entry`]'s.
fn form_1() -> String {
    let strings: Vec<String> = (1..=6)
        .rev()
        .map(|n| {
            format!(
                "verdict_{n} TEXT NOT NULL, heard_fret_{n} INTEGER, rings_{n} REAL, \
                 confidence_{n} REAL, cents_{n} REAL, reason_{n} TEXT"
            )
        })
        .collect();
    format!(
        "CREATE TABLE take (
            id INTEGER PRIMARY KEY,
            at_ms INTEGER NOT NULL,
            frets TEXT NOT NULL,
            clean INTEGER,
            exercise TEXT,
            from_frets TEXT,
            began_ms INTEGER,
            step INTEGER,
            chord TEXT,
            shape TEXT,
            fret INTEGER,
            guitar TEXT,
            gap_s REAL,
            {},
            lesson TEXT,
            stage TEXT,
            manner TEXT NOT NULL,
            tuning_cents REAL,
            warnings TEXT NOT NULL,
            causes TEXT NOT NULL,
            program TEXT NOT NULL,
            model TEXT NOT NULL,
            sound TEXT
        ) STRICT;
        CREATE UNIQUE INDEX take_once ON take (at_ms, frets);",
        strings.join(",\n            ")
    )
}

/// Playing along: how late, and how fast it went.
fn form_2() -> String {
    "ALTER TABLE take ADD COLUMN off_ms REAL;
     ALTER TABLE take ADD COLUMN tempo_bpm REAL;"
        .to_owned()
}

/// Put right: what the player says of a take, as JSON.
fn form_3() -> String {
    "ALTER TABLE take ADD COLUMN said TEXT;".to_owned()
}

/// The form of an open file.
pub fn form(connection: &Connection) -> rusqlite::Result<i64> {
    connection.pragma_query_value(None, "user_version", |row| row.get(0))
}

/// Tells whether an open file is another program's. An empty one is nobody's.
pub fn is_foreign(connection: &Connection) -> rusqlite::Result<bool> {
    // Both by one statement: another program may be making the diary between two.
    let (id, tables): (i64, i64) = connection.query_row(
        "SELECT application_id, (SELECT count(*) FROM sqlite_schema) FROM pragma_application_id",
        [],
        |row| Ok((row.get(0)?, row.get(1)?)),
    )?;
    Ok(id != APPLICATION_ID && (id != 0 || tables > 0))
}

/// Brings an open file up to the last of `migrations`, all or nothing. Of two programs at once one
/// does it and the other finds it done.
pub fn migrate(connection: &mut Connection, migrations: &[String]) -> rusqlite::Result<()> {
    let known = migrations.len() as i64;
    if form(connection)? >= known {
        return Ok(());
    }
    let all = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let found = form(&all)?;
    for migration in migrations.iter().skip(found.max(0) as usize) {
        all.execute_batch(migration)?;
    }
    all.pragma_update(None, "application_id", APPLICATION_ID)?;
    all.pragma_update(None, "user_version", known.max(found))?;
    all.commit()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn steps() -> Vec<String> {
        vec![
            "CREATE TABLE a (x); INSERT INTO a VALUES (1);".to_owned(),
            "ALTER TABLE a ADD COLUMN y; UPDATE a SET y = x + 1;".to_owned(),
        ]
    }

    #[test]
    fn an_older_file_is_brought_up_to_date_with_what_it_holds() {
        let mut file = Connection::open_in_memory().unwrap();
        migrate(&mut file, &steps()[..1]).unwrap();
        assert_eq!(form(&file).unwrap(), 1);
        migrate(&mut file, &steps()).unwrap();
        assert_eq!(form(&file).unwrap(), 2);
        let y: i64 = file
            .query_row("SELECT y FROM a", [], |row| row.get(0))
            .unwrap();
        assert_eq!(y, 2);
        // Once more changes nothing.
        migrate(&mut file, &steps()).unwrap();
        assert_eq!(form(&file).unwrap(), 2);
    }

    #[test]
    fn a_migration_that_fails_leaves_the_file_as_it_was() {
        let mut file = Connection::open_in_memory().unwrap();
        migrate(&mut file, &steps()[..1]).unwrap();
        let mut broken = steps();
        broken.push("INSERT INTO nowhere VALUES (1)".to_owned());
        assert!(migrate(&mut file, &broken).is_err());
        assert_eq!(form(&file).unwrap(), 1);
        assert!(file.query_row("SELECT y FROM a", [], |_| Ok(())).is_err());
    }

    #[test]
    fn a_file_with_tables_of_its_own_is_foreign_an_empty_one_is_not() {
        let mut file = Connection::open_in_memory().unwrap();
        assert!(!is_foreign(&file).unwrap());
        migrate(&mut file, &migrations()).unwrap();
        assert!(!is_foreign(&file).unwrap());
        let other = Connection::open_in_memory().unwrap();
        other.execute_batch("CREATE TABLE letters (x)").unwrap();
        assert!(is_foreign(&other).unwrap());
    }
}
