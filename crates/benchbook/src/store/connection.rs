//! One connection to either store, and the pool it comes from.

use sqlx::pool::PoolConnection;
use sqlx::{
    Connection as _, PgConnection, PgPool, Postgres, SqlSafeStr, SqlStr, Sqlite, SqliteConnection,
    SqlitePool, Transaction,
};

use super::query::Pending;
use super::{postgres, sqlite};

/// Which program keeps the rows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    Sqlite,
    Postgres,
}

/// A connection: alone, of a pool, or with a transaction that ends with it.
pub(crate) enum Connection {
    Sqlite(SqliteConnection),
    SqlitePooled(PoolConnection<Sqlite>),
    SqliteSnapshot(Transaction<'static, Sqlite>),
    Postgres(Box<PgConnection>),
    PostgresPooled(PoolConnection<Postgres>),
    PostgresSnapshot(Transaction<'static, Postgres>),
}

/// The connection of the store itself.
pub(crate) enum Side<'c> {
    Sqlite(&'c mut SqliteConnection),
    Postgres(&'c mut PgConnection),
}

impl Connection {
    pub(crate) fn side(&mut self) -> Side<'_> {
        match self {
            Self::Sqlite(one) => Side::Sqlite(one),
            Self::SqlitePooled(one) => Side::Sqlite(one),
            Self::SqliteSnapshot(one) => Side::Sqlite(one),
            Self::Postgres(one) => Side::Postgres(one),
            Self::PostgresPooled(one) => Side::Postgres(one),
            Self::PostgresSnapshot(one) => Side::Postgres(one),
        }
    }

    pub(crate) const fn kind(&self) -> Kind {
        match self {
            Self::Sqlite(_) | Self::SqlitePooled(_) | Self::SqliteSnapshot(_) => Kind::Sqlite,
            Self::Postgres(_) | Self::PostgresPooled(_) | Self::PostgresSnapshot(_) => {
                Kind::Postgres
            }
        }
    }

    /// Runs statements without values.
    pub(crate) fn run(&mut self, sql: impl SqlSafeStr) -> Pending<'_, ()> {
        self.run_text(sql.into_sql_str())
    }

    fn run_text(&mut self, sql: SqlStr) -> Pending<'_, ()> {
        Box::pin(async move {
            match self.side() {
                Side::Sqlite(one) => sqlx::raw_sql(sql).execute(one).await.map(drop),
                Side::Postgres(one) => sqlx::raw_sql(sql).execute(one).await.map(drop),
            }
        })
    }

    /// Number of the newest migration that this store has seen.
    pub(crate) async fn shape(&mut self) -> Result<i64, sqlx::Error> {
        match self.kind() {
            Kind::Sqlite => sqlite::shape(self).await,
            Kind::Postgres => postgres::shape(self).await,
        }
    }

    /// Expression that gives a column of bytes as hexadecimal digits.
    pub(crate) fn hexadecimal(&self, column: &str) -> String {
        match self.kind() {
            Kind::Sqlite => format!("hex({column})"),
            Kind::Postgres => format!("encode({column}, 'hex')"),
        }
    }

    /// Expression that joins a column of bytes, row after row.
    pub(crate) fn joined_bytes(&self, column: &str) -> String {
        match self.kind() {
            Kind::Sqlite => format!("CAST(string_agg({column}, '') AS BLOB)"),
            Kind::Postgres => format!("string_agg({column}, ''::bytea)"),
        }
    }

    /// Ends it. What was not committed is not kept.
    pub(crate) fn close(self) -> Pending<'static, ()> {
        Box::pin(async move {
            match self {
                Self::Sqlite(one) => one.close().await,
                Self::SqlitePooled(one) => one.close().await,
                Self::SqliteSnapshot(one) => one.rollback().await,
                Self::Postgres(one) => one.close().await,
                Self::PostgresPooled(one) => one.close().await,
                Self::PostgresSnapshot(one) => one.rollback().await,
            }
        })
    }
}

/// Connections of one kind.
#[derive(Debug, Clone)]
pub(crate) enum Pool {
    Sqlite(SqlitePool),
    Postgres(PgPool),
}

impl Pool {
    pub(crate) fn acquire(&self) -> Pending<'_, Connection> {
        Box::pin(async move {
            Ok(match self {
                Self::Sqlite(pool) => Connection::SqlitePooled(pool.acquire().await?),
                Self::Postgres(pool) => Connection::PostgresPooled(pool.acquire().await?),
            })
        })
    }

    /// A connection that reads one state of the store.
    pub(crate) fn snapshot(&self) -> Pending<'_, Connection> {
        Box::pin(async move {
            Ok(match self {
                Self::Sqlite(pool) => Connection::SqliteSnapshot(pool.begin().await?),
                Self::Postgres(pool) => {
                    Connection::PostgresSnapshot(pool.begin_with(postgres::SNAPSHOT).await?)
                }
            })
        })
    }

    pub(crate) async fn close(&self) {
        match self {
            Self::Sqlite(pool) => pool.close().await,
            Self::Postgres(pool) => pool.close().await,
        }
    }
}
