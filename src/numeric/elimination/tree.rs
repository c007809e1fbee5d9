//! Which pivots of a large matrix are eliminated together: the tree of what waits for what, and its nodes
//! drawn together until each is a dense block worth walking.
//!
//! Elimination trees: Liu, SIAM J. Matrix Anal. Appl. 11 (1990). That a few zeros taken along cost less than
//! the indices they save: Duff, Reid, ACM Trans. Math. Softw. 9 (1983); Ashcraft, Grimes, ibid. 15 (1989)
//! (both from memory).

use super::super::Pattern;
use super::super::ordering::Ordering;

const NONE: u32 = u32::MAX;

/// Pivots that are eliminated together, all of which change the same lines beyond them.
pub(super) struct Node {
    /// Places in the order, ascending.
    pub(super) pivots: Vec<u32>,
    /// Places behind the pivots that they change, ascending.
    pub(super) beyond: Vec<u32>,
    /// How many of its values in a triangle are zeros taken along.
    zeros: usize,
    children: Vec<u32>,
    parent: u32,
}

impl Node {
    /// Values in a triangle: pivots among one another, and with the lines beyond.
    pub(super) fn triangle(&self) -> usize {
        let (m, r) = (self.pivots.len(), self.beyond.len());
        m * (m + 1) / 2 + m * r
    }

    /// Whether a child's pivots had better be this node's, and how many zeros that would take along.
    fn takes_in(&self, child: &Node) -> Option<usize> {
        let (own, its) = (self.pivots.len(), child.pivots.len());
        let more = its * (own + self.beyond.len() - child.beyond.len());
        let zeros = self.zeros + child.zeros + more;
        let all = self.triangle() + child.triangle() + more;
        (zeros as f64 <= most_zeros(own + its) * all as f64).then_some(zeros)
    }
}

/// Share of a triangle that may be zeros taken along, by the number of its pivots.
fn most_zeros(pivots: usize) -> f64 {
    match pivots {
        0..=4 => 0.6,
        5..=8 => 0.35,
        9..=16 => 0.2,
        17..=48 => 0.1,
        _ => 0.05,
    }
}

/// The nodes for the pivots before `split`, in an order in which none comes before its children, with
/// places in that order, and which place each place of the given one has become.
pub(super) fn nodes(pattern: &Pattern, ordering: &Ordering, split: usize) -> (Vec<Node>, Vec<u32>) {
    let beyond = structures(neighbours(pattern, ordering, split));
    let mut tree: Vec<Node> = Vec::with_capacity(split);
    let mut children = vec![Vec::new(); split];
    for (k, beyond) in beyond.into_iter().enumerate() {
        let parent = beyond.iter().copied().min().filter(|&p| (p as usize) < split);
        if let Some(parent) = parent {
            children[parent as usize].push(k as u32);
        }
        let (pivots, parent) = (vec![k as u32], parent.unwrap_or(NONE));
        let children = std::mem::take(&mut children[k]);
        tree.push(Node { pivots, beyond, zeros: 0, children, parent });
    }
    for k in 0..split {
        draw_together(&mut tree, k);
    }
    let mut tree = from_the_leaves(tree);
    let place = places(&tree, ordering.rows.len());
    for node in &mut tree {
        for k in node.pivots.iter_mut().chain(&mut node.beyond) {
            *k = place[*k as usize];
        }
        node.beyond.sort_unstable();
    }
    (tree, place)
}

/// For each pivot before `split`, the later places that it shares a value with, in its row or its column.
fn neighbours(pattern: &Pattern, ordering: &Ordering, split: usize) -> Vec<Vec<u32>> {
    let (of_row, of_column) = (inverse(&ordering.rows), inverse(&ordering.columns));
    let mut neighbours = vec![Vec::new(); split];
    for (row, columns) in pattern.columns_by_row().enumerate() {
        let a = of_row[row];
        for b in columns.iter().map(|&column| of_column[column as usize]) {
            let (first, second) = (a.min(b), a.max(b));
            if first != second && (first as usize) < split {
                neighbours[first as usize].push(second);
            }
        }
    }
    neighbours
}

/// Where each line is in an order.
pub(super) fn inverse(order: &[u32]) -> Vec<u32> {
    let mut place = vec![NONE; order.len()];
    for (k, &line) in order.iter().enumerate() {
        place[line as usize] = k as u32;
    }
    place
}

/// The same once everything has filled in: what a pivot changes, those that it changes first change too.
fn structures(neighbours: Vec<Vec<u32>>) -> Vec<Vec<u32>> {
    let split = neighbours.len();
    let mut noted_for = Vec::new();
    let mut filled: Vec<Vec<u32>> = Vec::with_capacity(split);
    let mut children = vec![Vec::new(); split];
    for (k, own) in neighbours.into_iter().enumerate() {
        let mut beyond = Vec::new();
        let inherited = children[k].iter().flat_map(|&child: &u32| &filled[child as usize]);
        for &later in own.iter().chain(inherited).filter(|&&later| later as usize != k) {
            if noted_for.len() <= later as usize {
                noted_for.resize(later as usize + 1, NONE);
            }
            if std::mem::replace(&mut noted_for[later as usize], k as u32) != k as u32 {
                beyond.push(later);
            }
        }
        let first = beyond.iter().copied().min();
        if let Some(children) = first.and_then(|first| children.get_mut(first as usize)) {
            children.push(k as u32);
        }
        filled.push(beyond);
    }
    filled
}

/// Takes into a node those of its children that cost few zeros, those with most in common first.
fn draw_together(tree: &mut [Node], k: usize) {
    let mut children = std::mem::take(&mut tree[k].children);
    children.sort_by_key(|&child| std::cmp::Reverse(tree[child as usize].beyond.len()));
    let mut left = Vec::new();
    for child in children {
        let Some(zeros) = tree[k].takes_in(&tree[child as usize]) else {
            left.push(child);
            continue;
        };
        let taken = &mut tree[child as usize];
        let (mut pivots, theirs) =
            (std::mem::take(&mut taken.pivots), std::mem::take(&mut taken.children));
        taken.beyond = Vec::new();
        pivots.append(&mut tree[k].pivots);
        for &grandchild in &theirs {
            tree[grandchild as usize].parent = k as u32;
        }
        left.extend(theirs);
        let node = &mut tree[k];
        (node.pivots, node.zeros) = (pivots, zeros);
    }
    tree[k].children = left;
}

/// The nodes that are left, children before parents and each with its own next to it.
fn from_the_leaves(mut tree: Vec<Node>) -> Vec<Node> {
    let is_root = |k: &u32| {
        let node = &tree[*k as usize];
        node.parent == NONE && !node.pivots.is_empty()
    };
    // Last first: what is taken off the end of the stack comes last in the order.
    let mut stack: Vec<u32> = (0..tree.len() as u32).filter(is_root).collect();
    let mut order = Vec::new();
    while let Some(k) = stack.pop() {
        order.push(k);
        stack.extend(&tree[k as usize].children);
    }
    order.reverse();
    let empty = || Node {
        pivots: Vec::new(),
        beyond: Vec::new(),
        zeros: 0,
        children: Vec::new(),
        parent: NONE,
    };
    order.into_iter().map(|k| std::mem::replace(&mut tree[k as usize], empty())).collect()
}

/// Which place each place of the old order gets, those that wait their old one.
fn places(tree: &[Node], n: usize) -> Vec<u32> {
    let mut place: Vec<u32> = (0..n as u32).collect();
    for (at, &k) in tree.iter().flat_map(|node| &node.pivots).enumerate() {
        place[k as usize] = at as u32;
    }
    place
}
