use serde::{Deserialize, Serialize};

/// The three words that grade a figure everywhere, from best to worst.
///
/// ```
/// use parings_core::stats::Grade;
/// assert!(Grade::Within < Grade::Outside);
/// assert_eq!(serde_json::to_string(&Grade::NearTheEdge).unwrap(), "\"near_the_edge\"");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Grade {
    /// The figure is as expected.
    Within,
    /// The figure lies off by more than is usual, and not yet by so much that it is worth a look.
    NearTheEdge,
    /// The figure lies so far off that it is worth a look.
    Outside,
}
