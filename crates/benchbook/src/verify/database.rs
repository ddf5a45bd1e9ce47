//! The database: the tables and guards that this shape has, switched on, with
//! the bodies that they were made with.

use super::Verification;
use crate::store::connection::Connection;
use crate::store::migrations::NEWEST;
use crate::store::query::query;

/// Every table of the newest shape.
const TABLES: [&str; 10] = [
    "cases",
    "channels",
    "character",
    "entries",
    "files",
    "history",
    "migrations",
    "records",
    "runs",
    "samples",
];

/// Checks guards and rights; gives the shape.
pub(super) async fn check(
    connection: &mut Connection,
    found: &mut Verification,
) -> Result<u32, sqlx::Error> {
    let shape = connection.shape().await?;
    let known = u32::try_from(shape).ok().filter(|shape| (1..=NEWEST).contains(shape));
    if known.is_none() {
        found.find("database", format!("its shape is {shape}, and shapes are 1 to {NEWEST}"));
    }
    check_tables(connection, found).await?;
    check_triggers(connection, found).await?;
    check_functions(connection, found).await?;
    check_rights(connection, found).await?;
    Ok(known.unwrap_or(NEWEST))
}

async fn check_tables(
    connection: &mut Connection,
    found: &mut Verification,
) -> Result<(), sqlx::Error> {
    let rows = query(
        "SELECT relname::text FROM pg_class WHERE relnamespace = 'isobar'::regnamespace AND \
         relkind IN ('r', 'p', 'v', 'm', 'f') ORDER BY relname",
    )
    .fetch_all(connection)
    .await?;
    let here: Vec<&str> = rows.iter().map(|row| row.try_get(0)).collect::<Result<_, _>>()?;
    for table in TABLES.iter().filter(|table| !here.contains(table)) {
        found.find("database", format!("table `{table}` is missing"));
    }
    for table in here.iter().filter(|table| !TABLES.contains(table)) {
        found.find("database", format!("table `{table}` does not belong there"));
    }
    let rules = query(
        "SELECT tablename::text FROM pg_rules WHERE schemaname = 'isobar' UNION SELECT \
         tablename::text FROM pg_policies WHERE schemaname = 'isobar'",
    );
    for row in rules.fetch_all(connection).await? {
        let table: &str = row.try_get(0)?;
        found.find("database", format!("a rule on `{table}` does not belong there"));
    }
    Ok(())
}

/// Triggers as `pg_get_triggerdef` writes them, with `A` for always.
async fn check_triggers(
    connection: &mut Connection,
    found: &mut Verification,
) -> Result<(), sqlx::Error> {
    let rows = query(
        "SELECT tgenabled::text || ' ' || pg_get_triggerdef(oid) FROM pg_trigger WHERE NOT \
         tgisinternal AND tgrelid IN (SELECT oid FROM pg_class WHERE relnamespace = \
         'isobar'::regnamespace)",
    )
    .fetch_all(connection)
    .await?;
    let here: Vec<&str> = rows.iter().map(|row| row.try_get(0)).collect::<Result<_, _>>()?;
    let mut expected = vec![
        "A CREATE TRIGGER history_without_gap BEFORE INSERT ON isobar.history FOR EACH ROW \
         EXECUTE FUNCTION history_without_gap()"
            .to_owned(),
    ];
    for table in TABLES {
        // PostgreSQL quotes the word, which is also the name of a type.
        let table = if table == "character" { "\"character\"" } else { table };
        for (name, what, each) in [
            ("append_only", "DELETE OR UPDATE", "ROW"),
            ("append_only_whole", "TRUNCATE", "STATEMENT"),
        ] {
            expected.push(format!(
                "A CREATE TRIGGER {name} BEFORE {what} ON isobar.{table} FOR EACH {each} EXECUTE \
                 FUNCTION append_only()"
            ));
        }
    }
    for guard in expected.iter().filter(|guard| !here.contains(&guard.as_str())) {
        found.find("database", format!("the guard `{guard}` is missing, changed or off"));
    }
    for guard in here.iter().filter(|guard| !expected.iter().any(|known| known == *guard)) {
        found.find("database", format!("the trigger `{guard}` does not belong there"));
    }
    Ok(())
}

async fn check_functions(
    connection: &mut Connection,
    found: &mut Verification,
) -> Result<(), sqlx::Error> {
    const EXPECTED: [(&str, &str); 2] = [
        (
            "append_only",
            "BEGIN RAISE EXCEPTION '%: append-only, % is refused', TG_TABLE_NAME, TG_OP; END",
        ),
        (
            "history_without_gap",
            "BEGIN IF NEW.number <> (SELECT coalesce(max(number), 0) + 1 FROM isobar.history) \
             THEN RAISE EXCEPTION 'history: the number does not follow the last one'; END IF; \
             RETURN NEW; END",
        ),
    ];
    let rows = query(
        "SELECT proname::text, prosrc FROM pg_proc WHERE pronamespace = 'isobar'::regnamespace \
         ORDER BY proname",
    )
    .fetch_all(connection)
    .await?;
    let here: Vec<(&str, &str)> = rows
        .iter()
        .map(|row| Ok((row.try_get(0)?, row.try_get(1)?)))
        .collect::<Result<_, sqlx::Error>>()?;
    if here != EXPECTED {
        found.find("database", "the functions of the guards are not those it was made with");
    }
    Ok(())
}

/// Nobody but the owner of the schema has other rights than to read and add.
async fn check_rights(
    connection: &mut Connection,
    found: &mut Verification,
) -> Result<(), sqlx::Error> {
    let rows = query(
        "SELECT c.relname || ': ' || acl.privilege_type || ' for ' || CASE acl.grantee WHEN 0 \
         THEN 'everybody' ELSE pg_get_userbyid(acl.grantee)::text END FROM pg_class c, \
         aclexplode(c.relacl) acl WHERE c.relnamespace = 'isobar'::regnamespace AND c.relkind = \
         'r' AND acl.grantee <> c.relowner AND acl.privilege_type NOT IN ('SELECT', 'INSERT')",
    )
    .fetch_all(connection)
    .await?;
    for row in &rows {
        let right: &str = row.try_get(0)?;
        found.find("database", format!("a right does not belong there: {right}"));
    }
    Ok(())
}
