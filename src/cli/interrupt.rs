//! Ctrl-C, and requests to end: says what is kept, then ends as the system ends a program by that
//! signal, which shells tell as 128 + its number: 130 for Ctrl-C.

use super::terminal;
use std::sync::Mutex;

/// What is said at an interrupt; nothing until there is something to say.
static WORD: Mutex<Option<String>> = Mutex::new(None);

/// From now on, an interrupt is answered with this.
pub(super) fn answer_with(word: String) {
    if let Ok(mut place) = WORD.lock() {
        *place = Some(word);
    }
}

/// Begins to listen. Where that cannot be done, the system ends the program without a word.
#[cfg(unix)]
pub(super) fn listen() {
    use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM};
    use signal_hook::iterator::Signals;
    let ignored = ignored();
    let all: Vec<i32> = [SIGHUP, SIGINT, SIGTERM].into_iter().filter(|s| !ignored(*s)).collect();
    let Ok(mut signals) = Signals::new(&all) else { return };
    let attend = move || {
        for signal in signals.forever() {
            // Whoever holds the word only puts another in: nothing is waited for here.
            if let Some(word) = WORD.try_lock().ok().and_then(|mut word| word.take()) {
                terminal::note(&format!("interrupted; {word}"));
            }
            let _ = signal_hook::low_level::emulate_default_handler(signal);
        }
    };
    // Without the thread, a caught signal would be lost.
    if std::thread::Builder::new().spawn(attend).is_err() {
        for signal in all {
            let _ = signal_hook::flag::register_conditional_default(signal, always());
        }
    }
}

/// Which signals whoever started the program had ignored: `nohup` would be in vain otherwise.
#[cfg(unix)]
fn ignored() -> impl Fn(i32) -> bool {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let mask = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
    let mask = mask.and_then(|digits| u64::from_str_radix(digits.trim(), 16).ok()).unwrap_or(0);
    move |signal| mask >> (signal - 1) & 1 == 1
}

#[cfg(unix)]
fn always() -> std::sync::Arc<std::sync::atomic::AtomicBool> {
    std::sync::Arc::new(std::sync::atomic::AtomicBool::new(true))
}

#[cfg(not(unix))]
pub(super) fn listen() {}
