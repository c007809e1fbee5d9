//! The order in which things that need one another can be worked out, and the circles that forbid
//! any.

use std::collections::BTreeSet;

/// Indices so ordered that each comes after what it needs, and the circles that prevent it.
pub(super) fn order_of(
    count: usize,
    needs: impl Fn(usize) -> Vec<usize>,
) -> (Vec<usize>, Vec<Vec<usize>>) {
    let needs: Vec<Vec<usize>> = (0..count).map(needs).collect();
    let mut open: Vec<usize> = needs.iter().map(Vec::len).collect();
    let mut users: Vec<Vec<usize>> = vec![Vec::new(); count];
    for (user, of) in needs.iter().enumerate() {
        for &need in of {
            users[need].push(user);
        }
    }
    let mut order: Vec<usize> = (0..count).filter(|&k| open[k] == 0).collect();
    let mut next = 0;
    while let Some(&done) = order.get(next) {
        next += 1;
        for &user in &users[done] {
            open[user] -= 1;
            if open[user] == 0 {
                order.push(user);
            }
        }
    }
    let stuck = |k: usize| open[k] > 0;
    let mut seen = BTreeSet::new();
    let mut cycles = Vec::new();
    for start in (0..count).filter(|&k| stuck(k)) {
        let mut path = Vec::new();
        let mut at = start;
        while seen.insert(at) {
            path.push(at);
            match needs[at].iter().copied().find(|&n| stuck(n)) {
                Some(need) => at = need,
                None => break,
            }
        }
        if let Some(begin) = path.iter().position(|&k| k == at) {
            cycles.push(path.split_off(begin));
        }
    }
    (order, cycles)
}

#[cfg(test)]
mod tests {
    use super::order_of;

    #[test]
    fn an_order_puts_needs_first_and_names_circles_once() {
        let needs = [vec![1], vec![2], vec![], vec![4], vec![3], vec![3], vec![6]];
        let (order, cycles) = order_of(needs.len(), |k| needs[k].clone());
        assert_eq!(order, [2, 1, 0]);
        assert_eq!(cycles, [vec![3, 4], vec![6]]);
    }
}
