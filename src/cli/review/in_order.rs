//! Works on a stream of things with several threads and hands the results on in the stream's order, each as soon as it and
//! those before it are done. The stream is read as it comes: a thing is worked on while the next one is still awaited.

use std::collections::BTreeMap;
use std::sync::mpsc::{self, Receiver, Sender};
use std::sync::{Mutex, PoisonError};
use std::thread;

use crate::error::{Error, Result};

/// Things that are taken from the stream before the first of them is handed on: memory is bounded by it.
const AHEAD: usize = 64;

/// One thread for each core of the machine.
pub fn one_for_each_core() -> usize {
    thread::available_parallelism().map_or(1, usize::from)
}

enum Event<T, R> {
    Arrived(T),
    StreamEnded,
    Done(usize, R),
}

/// Does `work` on everything in the stream with so many threads; `hand_on` ends it all by an error. The thread that reads
/// the stream is left to itself then, as it may wait for input that never comes.
pub fn work_through<T: Send + 'static, R: Send + 'static>(
    stream: impl Iterator<Item = T> + Send + 'static,
    jobs: usize,
    work: &(dyn Fn(T) -> R + Sync),
    hand_on: &mut dyn FnMut(R) -> Result<()>,
) -> Result<()> {
    let (events, happened) = mpsc::channel();
    let (permit, permits) = mpsc::channel();
    let (task, tasks) = mpsc::channel::<(usize, T)>();
    let reader_events = events.clone();
    thread::Builder::new()
        .spawn(move || read(stream, &permits, &reader_events))
        .map_err(no_threads)?;
    let tasks = Mutex::new(tasks);
    thread::scope(|scope| {
        for _ in 0..jobs.clamp(1, AHEAD) {
            let events = events.clone();
            let tasks = &tasks;
            thread::Builder::new()
                .spawn_scoped(scope, move || do_tasks(tasks, work, &events))
                .map_err(no_threads)?;
        }
        drop(events);
        // Dropped at the end, which tells the workers to go.
        let desk = Desk { task, permit };
        desk.run(&happened, hand_on)
    })
}

fn no_threads(error: std::io::Error) -> Error {
    Error::Internal(format!("no threads to work with: {error}")).caused_by(error)
}

/// Reads the stream, one thing for each permit, until nobody wants more.
fn read<T, R>(
    stream: impl Iterator<Item = T>,
    permits: &Receiver<()>,
    events: &Sender<Event<T, R>>,
) {
    for thing in stream {
        if permits.recv().is_err() || events.send(Event::Arrived(thing)).is_err() {
            return;
        }
    }
    let _nobody_waits = events.send(Event::StreamEnded);
}

fn do_tasks<T, R>(
    tasks: &Mutex<Receiver<(usize, T)>>,
    work: &(dyn Fn(T) -> R + Sync),
    events: &Sender<Event<T, R>>,
) {
    loop {
        let next = tasks.lock().unwrap_or_else(PoisonError::into_inner).recv();
        let Ok((place, thing)) = next else { return };
        if events.send(Event::Done(place, work(thing))).is_err() {
            return;
        }
    }
}

/// Where things are given out and results come in.
struct Desk<T> {
    task: Sender<(usize, T)>,
    permit: Sender<()>,
}

impl<T> Desk<T> {
    fn run<R>(
        &self,
        happened: &Receiver<Event<T, R>>,
        hand_on: &mut dyn FnMut(R) -> Result<()>,
    ) -> Result<()> {
        let mut early = BTreeMap::new();
        let (mut arrived, mut handed_on, mut has_ended) = (0, 0, false);
        for _ in 0..AHEAD {
            self.permit_one();
        }
        while !(has_ended && handed_on == arrived) {
            match happened.recv() {
                Ok(Event::Arrived(thing)) => {
                    let _workers_wait = self.task.send((arrived, thing));
                    arrived += 1;
                }
                Ok(Event::Done(place, result)) => {
                    early.insert(place, result);
                }
                Ok(Event::StreamEnded) | Err(_) => has_ended = true,
            }
            while let Some(result) = early.remove(&handed_on) {
                hand_on(result)?;
                handed_on += 1;
                self.permit_one();
            }
        }
        Ok(())
    }

    fn permit_one(&self) {
        let _reader_has_ended = self.permit.send(());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Early things take longest, so that they end last; still they come first, from one thread or many.
    #[test]
    fn results_come_in_the_order_of_the_stream() {
        for jobs in [1, 3, 100] {
            let slow = |k: u64| {
                thread::sleep(std::time::Duration::from_micros(200 * (7 - k % 7)));
                k
            };
            let mut found = Vec::new();
            let ended = work_through(0..300, jobs, &slow, &mut |k| {
                found.push(k);
                Ok(())
            });
            assert!(ended.is_ok());
            assert!(found.iter().copied().eq(0..300), "{jobs}: {found:?}");
        }
    }

    /// The stream has no end; what is wrong with the fifth result ends the work all the same.
    #[test]
    fn an_error_ends_the_work() {
        let mut handed_on = 0;
        let ended = work_through(0.., 4, &|k: u64| k, &mut |k| {
            handed_on += 1;
            if k < 4 {
                Ok(())
            } else {
                Err(Error::NotWritable("full".to_string()))
            }
        });
        assert!(ended.is_err());
        assert_eq!(handed_on, 5);
    }
}
