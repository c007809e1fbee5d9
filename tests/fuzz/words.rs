//! Mutation by words: bytes alone rarely get past the syntax of a circuit file.

use libfuzzer_sys::fuzzer_mutate;

/// What a quantity, a name or a structure may be replaced with.
const HOSTILE: [&str; 32] = [
    "0", "-1", "1e308", "-1e308", "1e-308", "5e-324", "1e999", "0/0", "1e300^9", "nan", "inf", "1 V",
    "-1 Ω", "1e12 F", "1 fF", "1e9 A", "-273.15 °C", "1e6 K", "1 ps", "1e9 s", "99999999999", "2",
    "gnd", "V1.voltage", "[]", "{}", "true", "\"\"", "a.endless", "..", "operating-point", "Ω",
];
/// Characters between which a word stands.
const AROUND: [char; 12] = ['"', ' ', ',', '[', ']', '{', '}', '=', '\n', '(', ')', '.'];

/// Half of the time as the fuzzer would, else a word of the text taken out, doubled, or replaced by
/// a hostile one or by another of the text.
pub fn mutate(bytes: &mut [u8], size: usize, most: usize, seed: u32) -> usize {
    let mut dice = Dice(u64::from(seed) | 1 << 40);
    let Ok(text) = std::str::from_utf8(&bytes[..size]) else {
        return fuzzer_mutate(bytes, size, most);
    };
    if text.len() < 8 || dice.below(2) == 0 {
        return fuzzer_mutate(bytes, size, most);
    }
    let mut text = text.to_owned();
    for _ in 0..=dice.below(3) {
        text = turn(&text, &mut dice);
    }
    let mut end = text.len().min(most);
    while !text.is_char_boundary(end) {
        end -= 1;
    }
    bytes[..end].copy_from_slice(&text.as_bytes()[..end]);
    end
}

fn turn(text: &str, dice: &mut Dice) -> String {
    let lines = || text.split_inclusive('\n');
    let count = lines().count().max(1);
    let (at, to) = (dice.below(count), dice.below(count));
    match dice.below(6) {
        0 => lines().enumerate().filter(|(k, _)| *k != at).map(|(_, line)| line).collect(),
        1 => {
            let moved = lines().nth(at).unwrap_or_default();
            let put = |(k, line)| if k == to { [moved, line] } else { ["", line] };
            lines().enumerate().flat_map(put).collect()
        }
        kind => {
            let words: Vec<(usize, &str)> = words(text);
            if words.is_empty() {
                return text.to_owned();
            }
            let (start, word) = words[dice.below(words.len())];
            let new = if kind < 4 {
                HOSTILE[dice.below(HOSTILE.len())]
            } else {
                words[dice.below(words.len())].1
            };
            [&text[..start], new, &text[start + word.len()..]].concat()
        }
    }
}

fn words(text: &str) -> Vec<(usize, &str)> {
    let pieces = text.split(AROUND);
    let place = |word: &str| word.as_ptr() as usize - text.as_ptr() as usize;
    pieces.filter(|word| !word.is_empty()).map(|word| (place(word), word)).collect()
}

/// Xorshift: a mutation must follow from its seed alone.
struct Dice(u64);

impl Dice {
    fn below(&mut self, count: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 % count as u64) as usize
    }
}
