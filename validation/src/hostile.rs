//! Files as accidents make them: random bytes, and good files with pieces lost, doubled, swapped, overwritten.

use crate::random::Draws;

/// What people and accidents put into files.
const PIECES: &[&str] = &[
    "nan",
    "inf",
    "-1e308",
    "1e-320",
    "99999999999999999999",
    "-0",
    "\"",
    "'''",
    "[",
    "]]",
    "{",
    "}",
    "=",
    "#",
    ",",
    ";",
    "\u{feff}",
    "\r",
    "\r\n",
    "\0",
    "é",
    "\u{202e}",
    "[[",
    "= [",
    "\n\n",
    "1979-05-27",
    "true",
    "0x1F",
    "..",
];

/// A file of random bytes.
#[must_use]
pub fn bytes(draws: &mut Draws) -> Vec<u8> {
    let length = draws.one_of(600);
    (0..length).map(|_| draws.one_of(256) as u8).collect()
}

/// A good file after one to four accidents.
#[must_use]
pub fn mutated(good: &str, draws: &mut Draws) -> Vec<u8> {
    let mut text = good.as_bytes().to_vec();
    // mostly one: what is refused at its first fault shows nothing of those behind it
    for _ in 0..=draws.one_of(4).saturating_sub(1) {
        accident(&mut text, draws);
    }
    text
}

fn accident(text: &mut Vec<u8>, draws: &mut Draws) {
    let at = draws.one_of(text.len() + 1);
    let to = (at + draws.one_of(60)).min(text.len());
    let piece = PIECES[draws.one_of(PIECES.len())].bytes();
    match draws.one_of(9) {
        0 => drop(text.splice(at..at, piece)),
        1 => drop(text.splice(at..to, piece)),
        2 => drop(text.drain(at..to)),
        3 => {
            let again = text[at..to].to_vec();
            drop(text.splice(at..at, again));
        }
        4 => text.truncate(at),
        5 => {
            if let Some(byte) = text.get_mut(at) {
                *byte = draws.one_of(256) as u8;
            }
        }
        6 => number(text, at, piece.collect()),
        7 => number(text, at, format!("{}", draws.between(-10.0, 100.0)).into_bytes()),
        _ => lines(text, draws),
    }
}

/// Another thing in place of the first number after a place.
fn number(text: &mut Vec<u8>, at: usize, piece: Vec<u8>) {
    let Some(start) = text[at..].iter().position(u8::is_ascii_digit).map(|p| at + p) else {
        return;
    };
    let length = text[start..].iter().take_while(|b| b.is_ascii_digit() || **b == b'.').count();
    drop(text.splice(start..start + length, piece));
}

/// Two lines change places.
fn lines(text: &mut Vec<u8>, draws: &mut Draws) {
    let mut all: Vec<Vec<u8>> = text.split(|b| *b == b'\n').map(<[u8]>::to_vec).collect();
    let (a, b) = (draws.one_of(all.len()), draws.one_of(all.len()));
    all.swap(a, b);
    *text = all.join(&b'\n');
}
