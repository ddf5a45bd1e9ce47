//! One way to ask every store: the same text with numbered placeholders
//! (`$1`), values of three kinds, and rows that are read by position.

use std::borrow::Cow;
use std::future::Future;
use std::pin::Pin;

use sqlx::postgres::{PgArguments, PgRow};
use sqlx::sqlite::{SqliteArguments, SqliteRow};
use sqlx::{Arguments, Row as _, SqlSafeStr, SqlStr};

use super::connection::{Connection, Kind, Side};

/// A value for a placeholder. Both stores keep nothing else than these.
pub(crate) enum Value<'q> {
    Integer(Option<i64>),
    Text(Option<Cow<'q, str>>),
    Bytes(Cow<'q, [u8]>),
}

macro_rules! value_from {
    ($($given:ty: $name:ident => $value:expr),* $(,)?) => {$(
        impl<'q> From<$given> for Value<'q> {
            fn from($name: $given) -> Self { $value }
        }
    )*};
}

value_from! {
    i64: n => Self::Integer(Some(n)),
    u32: n => Self::Integer(Some(i64::from(n))),
    Option<u32>: n => Self::Integer(n.map(i64::from)),
    &'q str: text => Self::Text(Some(Cow::Borrowed(text))),
    &'q String: text => Self::Text(Some(Cow::Borrowed(text))),
    String: text => Self::Text(Some(Cow::Owned(text))),
    Option<&'q str>: text => Self::Text(text.map(Cow::Borrowed)),
    &'q [u8]: bytes => Self::Bytes(Cow::Borrowed(bytes)),
    Vec<u8>: bytes => Self::Bytes(Cow::Owned(bytes)),
}

/// An answer that is waited for. Boxed, so that the code of the drivers is
/// compiled once, in this crate, and not in every program that uses it.
pub(crate) type Pending<'c, T> = Pin<Box<dyn Future<Output = Result<T, sqlx::Error>> + Send + 'c>>;

/// A statement with its values.
pub(crate) struct Query<'q> {
    sql: SqlStr,
    values: Vec<Value<'q>>,
}

/// A statement without values yet.
pub(crate) fn query<'q>(sql: impl SqlSafeStr) -> Query<'q> {
    Query { sql: sql.into_sql_str(), values: Vec::new() }
}

/// Inserts many rows of `n_columns` values each with one statement; `into` is
/// `INSERT INTO table (columns)`, a text of this crate.
///
/// SQLite is given placeholders without numbers: its driver looks up each
/// numbered one in a list, which takes longer than all the rest of a long
/// statement.
pub(crate) fn insert_rows<'q>(
    kind: Kind,
    into: &'static str,
    n_columns: usize,
    values: Vec<Value<'q>>,
) -> Query<'q> {
    let mut sql = String::with_capacity(into.len() + 8 * values.len());
    sql.push_str(into);
    sql.push_str(" VALUES ");
    for place in 0..values.len() {
        sql.push_str(match (place, place % n_columns) {
            (0, _) => "(",
            (_, 0) => "), (",
            _ => ", ",
        });
        match kind {
            Kind::Sqlite => sql.push('?'),
            Kind::Postgres => sql.push_str(&format!("${}", place + 1)),
        }
    }
    sql.push(')');
    Query { sql: sqlx::AssertSqlSafe(sql).into_sql_str(), values }
}

impl<'q> Query<'q> {
    /// Gives the next placeholder its value.
    pub(crate) fn bind(mut self, value: impl Into<Value<'q>>) -> Self {
        self.values.push(value.into());
        self
    }

    /// Runs the statement.
    pub(crate) fn execute<'c>(self, connection: &'c mut Connection) -> Pending<'c, ()>
    where
        'q: 'c,
    {
        Box::pin(async move {
            match connection.side() {
                Side::Sqlite(one) => {
                    sqlx::query_with(self.sql, to_sqlite(self.values)?).execute(one).await?;
                }
                Side::Postgres(one) => {
                    sqlx::query_with(self.sql, to_postgres(self.values)?).execute(one).await?;
                }
            }
            Ok(())
        })
    }

    /// Every row.
    pub(crate) fn fetch_all<'c>(self, connection: &'c mut Connection) -> Pending<'c, Vec<Row>>
    where
        'q: 'c,
    {
        Box::pin(async move {
            Ok(match connection.side() {
                Side::Sqlite(one) => {
                    let asked = sqlx::query_with(self.sql, to_sqlite(self.values)?);
                    asked.fetch_all(one).await?.into_iter().map(Row::Sqlite).collect()
                }
                Side::Postgres(one) => {
                    let asked = sqlx::query_with(self.sql, to_postgres(self.values)?);
                    asked.fetch_all(one).await?.into_iter().map(Row::Postgres).collect()
                }
            })
        })
    }

    /// The first row, where there is one.
    pub(crate) fn fetch_optional<'c>(
        self,
        connection: &'c mut Connection,
    ) -> Pending<'c, Option<Row>>
    where
        'q: 'c,
    {
        Box::pin(async move {
            Ok(match connection.side() {
                Side::Sqlite(one) => {
                    let asked = sqlx::query_with(self.sql, to_sqlite(self.values)?);
                    asked.fetch_optional(one).await?.map(Row::Sqlite)
                }
                Side::Postgres(one) => {
                    let asked = sqlx::query_with(self.sql, to_postgres(self.values)?);
                    asked.fetch_optional(one).await?.map(Row::Postgres)
                }
            })
        })
    }

    /// The one row that there must be.
    pub(crate) fn fetch_one<'c>(self, connection: &'c mut Connection) -> Pending<'c, Row>
    where
        'q: 'c,
    {
        let row = self.fetch_optional(connection);
        Box::pin(async move { row.await?.ok_or(sqlx::Error::RowNotFound) })
    }
}

fn to_sqlite(values: Vec<Value<'_>>) -> Result<SqliteArguments, sqlx::Error> {
    let mut arguments = SqliteArguments::default();
    add_all(values, |value| match value {
        Value::Integer(n) => arguments.add(n),
        Value::Text(text) => arguments.add(text.map(Cow::into_owned)),
        Value::Bytes(bytes) => arguments.add(bytes.into_owned()),
    })?;
    Ok(arguments)
}

fn to_postgres(values: Vec<Value<'_>>) -> Result<PgArguments, sqlx::Error> {
    let mut arguments = PgArguments::default();
    add_all(values, |value| match value {
        Value::Integer(n) => arguments.add(n),
        Value::Text(text) => arguments.add(text.as_deref()),
        Value::Bytes(bytes) => arguments.add(&*bytes),
    })?;
    Ok(arguments)
}

fn add_all<'q>(
    values: Vec<Value<'q>>,
    add: impl FnMut(Value<'q>) -> Result<(), sqlx::error::BoxDynError>,
) -> Result<(), sqlx::Error> {
    values.into_iter().try_for_each(add).map_err(sqlx::Error::Encode)
}

/// A row of either store.
pub(crate) enum Row {
    Sqlite(SqliteRow),
    Postgres(PgRow),
}

/// What a column can be read as.
pub(crate) trait Field<'r>: Sized {
    fn of(row: &'r Row, index: usize) -> Result<Self, sqlx::Error>;
}

macro_rules! fields {
    ($($kind:ty),* $(,)?) => {$(
        impl<'r> Field<'r> for $kind {
            fn of(row: &'r Row, index: usize) -> Result<Self, sqlx::Error> {
                match row {
                    Row::Sqlite(row) => row.try_get(index),
                    Row::Postgres(row) => row.try_get(index),
                }
            }
        }
    )*};
}

fields!(i64, String, &'r str, Vec<u8>, &'r [u8], Option<String>, Option<&'r str>, Option<&'r [u8]>,);

impl<'r> Field<'r> for u32 {
    /// Integers are stored with 64 bits; one out of range is damaged.
    fn of(row: &'r Row, index: usize) -> Result<Self, sqlx::Error> {
        let number = i64::of(row, index)?;
        Self::try_from(number).map_err(|error| sqlx::Error::ColumnDecode {
            index: index.to_string(),
            source: error.into(),
        })
    }
}

impl Row {
    /// A column by its position.
    pub(crate) fn try_get<'r, T: Field<'r>>(&'r self, index: usize) -> Result<T, sqlx::Error> {
        T::of(self, index)
    }
}
