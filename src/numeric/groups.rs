//! Disjoint sets: what hangs together once some pairs are joined.

/// Disjoint sets of the numbers below a count.
#[derive(Clone, Debug)]
pub struct Groups {
    parent: Vec<usize>,
}

impl Groups {
    /// Every number on its own.
    pub fn new(count: usize) -> Self {
        Self { parent: (0..count).collect() }
    }

    /// The number that stands for the group of `k`; `k` must be below the count.
    pub fn root(&mut self, mut k: usize) -> usize {
        while self.parent[k] != k {
            self.parent[k] = self.parent[self.parent[k]];
            k = self.parent[k];
        }
        k
    }

    /// Joins two groups; `false` if they hung together already. The lower root stands for both.
    pub fn join(&mut self, ends: [usize; 2]) -> bool {
        let [a, b] = ends.map(|k| self.root(k));
        self.parent[a.max(b)] = a.min(b);
        a != b
    }

    /// Whether two hang together.
    pub fn same(&mut self, a: usize, b: usize) -> bool {
        self.root(a) == self.root(b)
    }
}

#[cfg(test)]
mod tests {
    use super::Groups;

    #[test]
    fn what_was_joined_hangs_together_and_nothing_else() {
        let mut groups = Groups::new(5);
        assert!(groups.join([3, 1]) && groups.join([1, 4]));
        assert!(!groups.join([4, 3]), "they hung together already");
        assert!(groups.same(3, 4) && !groups.same(0, 4));
        assert_eq!(groups.root(4), 1);
    }
}
