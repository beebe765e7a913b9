//! Everything that is wrong with a file of which some rows cannot be read: what the rules say of the
//! others is told with it.

use super::BadRows;
use super::gather::{Broken, Recorded};
use crate::app::Deps;
use crate::app::office::imports::{self, FileId, Import, Manner};
use crate::context::Caller;
use crate::error::AppError;

impl Broken {
    /// Looks at the rows that can be read, and writes nothing.
    ///
    /// # Errors
    /// 403 for all but head office.
    pub async fn whole(
        self,
        deps: &Deps,
        caller: &Caller,
        file: FileId,
        amend: Option<&str>,
    ) -> Result<BadRows, AppError> {
        let Self { mut bad, rest } = self;
        let Some(rest) = rest else { return Ok(bad) };
        let recorded = Recorded { by: caller.person, at: deps.clock.now(), amend };
        let (kind, rows, stores) = (rest.kind, rest.rows, rest.facts(file.id, recorded));
        let import = Import { file, name: String::new(), kind, rows, stores };
        if import.span().is_none() {
            return Ok(bad);
        }
        let manner = Manner { dry_run: true, amend };
        let tell = |refused: &[_]| rest.refused(refused).into();
        match imports::run(deps, caller, import, manner, tell, |_| ()).await {
            Err(AppError::BadRows { rows, total }) => bad.extend(BadRows { rows, total }),
            // The database has no place for a month: that is told when the rows are right.
            Ok(_) | Err(AppError::Conflict(_)) => {}
            Err(other) => return Err(other),
        }
        Ok(bad.sorted())
    }
}
