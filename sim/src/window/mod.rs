//! placeholder
use crate::lane::Lane;
#[derive(Debug, Clone, PartialEq)]
pub struct AreaTable { pub open: f64, pub width: f64, pub height: f64 }
impl AreaTable { #[inline(always)] pub fn at<'a, L: Lane>(t: impl Fn(usize)->&'a Self, drop: L) -> L {
 let o=L::from_fn(|i| t(i).open); let w=L::from_fn(|i| t(i).width); let h=L::from_fn(|i| t(i).height);
 (drop-o).at_least(L::zero()).at_most(h)*w } }
impl AreaTable {
 pub fn crown(w: &[crate::spec::Window], edge: f64) -> Result<Self, String> { let x=&w[0]; Ok(Self{open:x.roof_depth-edge,width:x.chord*w.len() as f64,height:x.floor_depth-x.roof_depth}) }
 pub fn skirt(w: &[crate::spec::Window], edge: f64) -> Result<Self, String> { Self::crown(w, edge) }
}
