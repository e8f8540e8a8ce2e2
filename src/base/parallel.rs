//! Many independent cases on all cores, with results in the order of the cases: the only place that
//! starts threads, so that no result can depend on how many there are.

use rayon::prelude::*;

/// Applies `work` to every case and keeps the order.
pub fn map<T: Sync, R: Send>(cases: &[T], work: impl Fn(&T) -> R + Sync + Send) -> Vec<R> {
    cases.par_iter().map(work).collect()
}

/// Does three things at once.
pub fn three<A: Send, B: Send, C: Send>(
    a: impl FnOnce() -> A + Send,
    b: impl FnOnce() -> B + Send,
    c: impl FnOnce() -> C + Send,
) -> (A, B, C) {
    let (a, (b, c)) = rayon::join(a, || rayon::join(b, c));
    (a, b, c)
}

/// Does `work` with every case, each of which holds what it changes; `room` makes what several cases
/// in a row may work in.
pub fn each<T: Send, R>(
    cases: Vec<T>,
    room: impl Fn() -> R + Sync + Send,
    work: impl Fn(&mut R, T) + Sync + Send,
) {
    cases.into_par_iter().for_each_init(room, work);
}

/// Does two things at once.
pub fn two<A: Send, B: Send>(a: impl FnOnce() -> A + Send, b: impl FnOnce() -> B + Send) -> (A, B) {
    rayon::join(a, b)
}
