//! Windows in the bore: their shape, their exact area, and a smooth table of it.

mod shape;
mod table;

pub use shape::{Shape, ShapeFault};
pub use table::AreaTable;
