//! splitpin: from a failed roadworthiness item to its cause, the next cheapest safe check, the parts and the cautions.
pub mod advice;
pub mod embed;
pub mod graph;
pub mod inference;
pub mod knowledge;
pub mod reckon;
pub mod records;
pub mod refusal;
pub mod report;
pub mod session;
pub mod simulate;
pub mod surfaces;
pub mod symptom;
pub mod units;
pub mod vehicle;
