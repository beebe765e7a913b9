//! What stands out, what is done about it, and whether that helped.

pub mod cases;
pub mod causes;
pub mod course;
pub mod diary;
pub mod findings;
pub mod nightly;
pub mod review;
pub mod shared;
