//! Statements written as SQL, each in a file of the folder `sql`, that are prepared once a connection
//! and kept: the query builder's own `sql_query` is prepared anew at every call.

/// Defines a statement: its name, the values it takes (`$1`, `$2` … in this order), and its file.
///
/// ```ignore
/// statement!(OfStore<'a> { store: &'a str => Text, from: NaiveDate => Date } =
///     "tallies/of_store.sql");
/// OfStore { store, from }.load(conn).await
/// ```
macro_rules! statement {
    ($name:ident $(<$life:lifetime>)? { $($field:ident: $rust:ty => $sql:ty),* $(,)? } =
     $file:literal) => {
        struct $name $(<$life>)? { $($field: $rust,)* }

        const _: () = {
            // Its text never differs, so a type stands for it among the prepared statements.
            struct Id;

            impl $(<$life>)? diesel::query_builder::QueryId for $name $(<$life>)? {
                type QueryId = Id;
                const HAS_STATIC_QUERY_ID: bool = true;
            }
        };

        impl $(<$life>)? diesel::query_builder::Query for $name $(<$life>)? {
            type SqlType = diesel::sql_types::Untyped;
        }

        impl $(<$life>)? diesel::query_builder::QueryFragment<diesel::pg::Pg> for $name $(<$life>)? {
            fn walk_ast<'b>(
                &'b self,
                mut out: diesel::query_builder::AstPass<'_, 'b, diesel::pg::Pg>,
            ) -> diesel::QueryResult<()> {
                out.push_sql(include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/src/db/sql/", $file)));
                $(out.push_bind_param_value_only::<$sql, _>(&self.$field)?;)*
                Ok(())
            }
        }
    };
}

pub(crate) use statement;

/// What one column holds of each row, for a statement that adds many rows: a list for each column,
/// which the database puts together (`unnest`). Its text is the same for any number of rows, and
/// row-level security holds, which `COPY` does not allow.
pub(in crate::db) fn column<'r, R, T>(rows: &'r [R], of: impl Fn(&'r R) -> T) -> Vec<T> {
    rows.iter().map(of).collect()
}
