//! Statements written as SQL that are still prepared once and kept: the query builder's own
//! `sql_query` is prepared anew at every call.

/// Defines a statement: its name, the values it takes, and its text with the values in place.
///
/// ```ignore
/// statement!(AddRows { rows: &'a Value } =
///     "INSERT INTO t SELECT * FROM jsonb_populate_recordset(NULL::t, ", rows: Jsonb, ")");
/// ```
macro_rules! statement {
    ($(#[$doc:meta])* $name:ident { $($field:ident: $rust:ty),* $(,)? } =
     $first:expr $(, $bind:ident: $sql:ty, $text:literal)* $(,)?) => {
        $(#[$doc])*
        struct $name<'a> { $($field: $rust,)* _life: std::marker::PhantomData<&'a ()> }

        impl<'a> $name<'a> {
            #[allow(clippy::too_many_arguments)]
            fn new($($field: $rust),*) -> Self {
                Self { $($field,)* _life: std::marker::PhantomData }
            }
        }

        impl diesel::query_builder::QueryId for $name<'_> {
            type QueryId = $name<'static>;
            const HAS_STATIC_QUERY_ID: bool = true;
        }

        impl diesel::query_builder::Query for $name<'_> {
            type SqlType = diesel::sql_types::Untyped;
        }

        impl diesel::query_builder::QueryFragment<diesel::pg::Pg> for $name<'_> {
            fn walk_ast<'b>(
                &'b self,
                mut out: diesel::query_builder::AstPass<'_, 'b, diesel::pg::Pg>,
            ) -> diesel::QueryResult<()> {
                out.push_sql($first);
                $(
                    out.push_bind_param::<$sql, _>(&self.$bind)?;
                    out.push_sql($text);
                )*
                Ok(())
            }
        }
    };
}

pub(crate) use statement;
