use freshcharge_sim::{cycle::*, model::*};
use std::sync::Arc;
#[path="try.rs"] mod t;
fn main(){ let s=t::spec(); let e=Engine::new(&s).unwrap();
 for plain in [2u32,3,4] { for memory in [5usize,8,12] {
  let mut c=vec![]; let mut ev=0; for i in 0..25 { let rpm=3000.+250.*i as f64; let m=Arc::new(e.at_speed(rpm).unwrap()); let st=Settings{plain,memory,..Settings::single()};
   let p=settle(&m,&st); if let Ok(p)=p { ev+=p.work.evaluations; c.push(p.verdict.cycles()); } else {c.push(999);} }
  println!("plain {plain} mem {memory}: avg {:.1} max {} ev {} {:?}", c.iter().sum::<u32>() as f64/25., c.iter().max().unwrap(), ev/25, c); } } }
