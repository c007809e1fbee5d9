//! The same work many times over, on several threads, with results in order.

use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

/// `work(0)` to `work(count - 1)` on so many threads; the results are in this order whatever the
/// number of threads, and each is worked out by one thread alone.
pub fn in_parallel<T: Send>(
    count: usize,
    threads: usize,
    work: impl Fn(usize) -> T + Sync,
) -> Vec<T> {
    let threads = threads.clamp(1, count.max(1));
    if threads == 1 {
        return (0..count).map(work).collect();
    }
    let next = AtomicUsize::new(0);
    let done = Mutex::new(Vec::with_capacity(count));
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                loop {
                    let k = next.fetch_add(1, Ordering::Relaxed);
                    if k >= count {
                        break;
                    }
                    let result = work(k);
                    if let Ok(mut done) = done.lock() {
                        done.push((k, result));
                    }
                }
            });
        }
    });
    let mut done = done.into_inner().unwrap_or_default();
    done.sort_by_key(|(k, _)| *k);
    done.into_iter().map(|(_, result)| result).collect()
}

#[cfg(test)]
mod tests {
    use super::in_parallel;

    #[test]
    fn results_are_in_order_for_any_number_of_threads() {
        let squares: Vec<usize> = (0..100).map(|k| k * k).collect();
        for threads in [0, 1, 2, 7, 300] {
            assert_eq!(in_parallel(100, threads, |k| k * k), squares);
        }
        assert!(in_parallel(0, 4, |k| k).is_empty());
    }
}
